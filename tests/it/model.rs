//! The true models, where they are on this machine: `loadwalk model fetch` brings them. Without them
//! these tests pass over.

use loadwalk::model::{self, Purpose, State};

#[test]
fn models_that_are_here_are_whole() {
    for listed in model::list(None) {
        if let Some((path, state)) = listed.found {
            assert_eq!(state, State::Whole, "{}", path.display());
            if listed.model.purpose == Purpose::Speech {
                model::check_ggml(&path).unwrap();
            }
        }
    }
}

/// Converts the pinned packages found in the directory that `LOADWALK_WHEELS` names.
#[cfg(unix)]
#[test]
fn pinned_packages_convert_to_the_pinned_files() {
    let Some(wheels) = std::env::var_os("LOADWALK_WHEELS") else {
        return;
    };
    let wheels = std::path::Path::new(&wheels);
    for model in model::models() {
        let here = |p: &model::Package| wheels.join(&p.wheel).is_file();
        if !model.packages.iter().all(here) {
            continue;
        }
        // Stands in for the package client: copies every package to where it is told.
        let script = format!(
            "while test \"$1\" != --dest; do shift; done; cp '{}'/*.whl \"$2\"",
            wheels.display()
        );
        let command = ["sh", "-c", &script, "client"];
        let command = command.into_iter().map(Into::into).collect();
        let client = model::Client::from_command(command, std::time::Duration::from_secs(60));
        let dir = tempfile::tempdir().unwrap();
        let path = model::fetch_with(model, dir.path(), || Ok(client), &mut ()).unwrap();
        // The hash was checked against the manifest on the way.
        assert_eq!(std::fs::metadata(path).unwrap().len(), model.bytes);
    }
}

/// The converted default model hears a synthesised sentence.
#[cfg(feature = "whisper")]
#[test]
fn the_converted_model_transcribes_speech() {
    use loadwalk::voice::{self, Voice};
    use whisper_rs::{FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters};

    let Ok(path) = model::find(None, Purpose::Speech, None) else {
        return;
    };
    let Some(mut program) = voice::Kind::ALL.into_iter().find_map(voice::Program::find) else {
        return;
    };
    let clip = program
        .synthesise("The weather is good, and the wind is from the north.", 1.0)
        .unwrap();
    let mut sound = loadwalk::audio::resample(clip.samples, clip.rate, 16_000).unwrap();
    sound.extend(vec![0.0; 8_000]);
    whisper_rs::install_logging_hooks();
    let context =
        WhisperContext::new_with_params(&path, WhisperContextParameters::default()).unwrap();
    let mut state = context.create_state().unwrap();
    let mut params = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
    params.set_language(Some("en"));
    params.set_no_timestamps(true);
    params.set_audio_ctx(512);
    state.full(params, &sound).unwrap();
    let words: String = state
        .as_iter()
        .map(|segment| segment.to_str_lossy().unwrap().to_lowercase())
        .collect();
    for word in ["weather", "good", "wind", "north"] {
        assert!(words.contains(word), "{words:?} lacks {word:?}");
    }
}
