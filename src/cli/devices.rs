//! `loadwalk devices`: what there is to hear and speak with.

use super::exit::Outcome;
use clap::Args;

/// Lists microphones and loudspeakers, by the names that `--mic` and `--speaker` take.
#[derive(Debug, Args)]
pub struct DevicesCommand {
    /// One JSON object a line
    #[arg(long)]
    json: bool,
}

/// Runs the command.
#[cfg(feature = "devices")]
pub fn run(command: &DevicesCommand) -> Outcome {
    use super::exit::{Exit, Failure};
    use crate::audio::devices::{Direction, list};

    let all = list().map_err(Failure::missing)?;
    let mut exit = Exit::Done;
    for (direction, what) in [
        (Direction::In, "microphone"),
        (Direction::Out, "loudspeaker"),
    ] {
        let of_these: Vec<_> = all.iter().filter(|d| d.direction == direction).collect();
        if of_these.is_empty() {
            super::out::tell!(
                "loadwalk: no {what} was found; connect a headset and check the system's sound settings"
            );
            exit = Exit::Missing;
        }
        for device in of_these {
            print_device(what, device, command.json)?;
        }
    }
    Ok(exit)
}

#[cfg(feature = "devices")]
fn print_device(
    what: &str,
    device: &crate::audio::devices::DeviceInfo,
    json: bool,
) -> Result<(), super::exit::Failure> {
    if json {
        let line = serde_json::json!({
            "device": what,
            "name": device.name,
            "id": device.id,
            "default": device.default,
        });
        super::out::output!("{line}");
    } else {
        let default = if device.default { "  (default)" } else { "" };
        super::out::output!(
            "{what:<12} {}{default}\n             {}",
            device.name,
            device.id
        );
    }
    Ok(())
}

/// Runs the command.
#[cfg(not(feature = "devices"))]
pub fn run(_: &DevicesCommand) -> Outcome {
    Err(super::exit::Failure::missing(anyhow::anyhow!(
        "this loadwalk was built without sound devices; build it with the feature `devices`"
    )))
}
