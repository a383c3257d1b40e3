//! How long the recogniser's threads wait for each other before they give way.

/// Whether [`settle`] can limit it: where OpenMP divides the work.
pub const GIVES_WAY: bool = cfg!(all(target_os = "linux", feature = "whisper"));

/// Turns round an empty loop before a waiting thread sleeps. On a core that is wanted
/// elsewhere a thread that spins on holds up the one it waits for: answers then take seconds.
#[cfg(all(target_os = "linux", feature = "whisper"))]
const TURNS: &str = "1000";

/// Starts the program anew with the limit in its environment, where it is not set: OpenMP reads it once, as
/// it is loaded. Does nothing where that fails.
#[cfg(all(target_os = "linux", feature = "whisper"))]
pub fn settle() {
    use std::os::unix::process::CommandExt;
    const LIMIT: &str = "GOMP_SPINCOUNT";
    if std::env::var_os(LIMIT).is_some() {
        return;
    }
    let Ok(program) = std::env::current_exe() else {
        return;
    };
    let mut again = std::process::Command::new(program);
    let mut given = std::env::args_os();
    if let Some(name) = given.next() {
        again.arg0(name);
    }
    // Comes back only if it could not be started.
    let failed = again.args(given).env(LIMIT, TURNS).exec();
    super::out::tell!("loadwalk: the recogniser may be slow beside other work ({failed})");
}

/// Nothing to limit here.
#[cfg(not(all(target_os = "linux", feature = "whisper")))]
pub fn settle() {}
