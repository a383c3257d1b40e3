use super::*;

/// Power of `x` between two frequencies, by discrete Fourier transform of 1 s pieces at whole hertz.
fn band_power(x: &[f32], low: u32, high: u32, step: usize) -> f64 {
    let seconds: Vec<&[f32]> = x.chunks_exact(SAMPLE_RATE as usize).collect();
    let mut sum = 0.0;
    let mut bins = 0;
    for hz in (low..=high).step_by(step) {
        for piece in &seconds {
            sum += goertzel(piece, f64::from(hz));
            bins += 1;
        }
    }
    sum / f64::from(bins)
}

/// Power of one line by Goertzel's recursion.
fn goertzel(x: &[f32], hz: f64) -> f64 {
    let w = 2.0 * (TAU * hz / RATE).cos();
    let (mut a, mut b) = (0.0, 0.0);
    for v in x {
        (a, b) = (f64::from(*v) + w * a - b, a);
    }
    (a * a + b * b - w * a * b) / (x.len() * x.len()) as f64
}

fn db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

fn steady(tilt: f64) -> PadNoise {
    PadNoise {
        tilt_db_per_octave: tilt,
        blade_pass_hz: 15.0,
        modulation_depth: 0.0,
        slap: 1.0,
        rotor_db: None,
        tail: None,
        turbine: Vec::new(),
        piston: None,
        gusts: None,
        low_cut_hz: 20.0,
    }
}

#[test]
fn random_numbers_follow_the_published_stream() {
    // First outputs for the seed 1234567, as listed for SplitMix64 on Rosetta Code (from memory).
    let mut random = Random(1_234_567);
    let got: Vec<u64> = (0..5).map(|_| random.next()).collect();
    assert_eq!(
        got,
        [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821
        ]
    );
}

#[test]
fn a_seed_fixes_the_noise_and_another_changes_it() {
    for preset in Preset::ALL {
        let noise = preset.parameters();
        let a = noise.generate(8_000, 7);
        assert_eq!(a, noise.generate(8_000, 7), "{}", preset.name());
        assert_ne!(a, noise.generate(8_000, 8), "{}", preset.name());
    }
}

#[test]
fn level_is_what_it_says() {
    for preset in Preset::ALL {
        let noise = preset.parameters().generate(48_000, 1);
        let wide: Vec<f64> = noise.iter().map(|v| f64::from(*v)).collect();
        assert!(
            (db(rms(&wide).powi(2) / NOISE_RMS.powi(2))).abs() < 0.1,
            "{}",
            preset.name()
        );
    }
}

#[test]
fn broadband_falls_as_asked_above_500_hz() {
    // An octave is a doubling of frequency, and noise through a first-order low-pass falls by 6.02 dB
    // in each: the definition of the parameter. Three octaves, 700 to 5,600 Hz.
    for tilt in [3.0, 4.5, 6.0] {
        let noise = steady(tilt).generate(8 * SAMPLE_RATE as usize, 3);
        let low = band_power(&noise, 650, 750, 5);
        let high = band_power(&noise, 5_200, 6_000, 40);
        let fall = db(low / high) / 3.0;
        assert!(
            (fall - tilt).abs() < 0.6,
            "asked {tilt} dB an octave, got {fall:.2}"
        );
        let flat = db(band_power(&noise, 90, 110, 1) / band_power(&noise, 180, 220, 2));
        assert!(
            flat.abs() < 1.0,
            "below the corner it is flat, got {flat:.2} dB between 100 and 200 Hz"
        );
    }
}

#[test]
fn the_beat_is_at_the_blade_pass_frequency_and_as_deep_as_asked() {
    let noise = PadNoise {
        modulation_depth: 0.6,
        ..steady(3.0)
    };
    // With a slap of 1 the amplitude is 0.7 - 0.3 cos: its line relative to its mean is 0.3/0.7.
    let x = noise.generate(20 * SAMPLE_RATE as usize, 5);
    let size: Vec<f32> = x.iter().map(|v| v.abs()).collect();
    let mean = f64::from(size.iter().sum::<f32>()) / size.len() as f64;
    let relative = 2.0 * goertzel(&size, 15.0).sqrt() / mean;
    assert!((relative - 0.3 / 0.7).abs() < 0.04, "{relative}");
    assert!(goertzel(&size, 15.0) > 100.0 * goertzel(&size, 22.0));
}

#[test]
fn lines_stand_where_they_are_put() {
    let noise = PadNoise {
        turbine: vec![(4_000.0, -10.0)],
        tail: Some((120.0, 0.0)),
        ..steady(6.0)
    };
    let x = noise.generate(5 * SAMPLE_RATE as usize, 9);
    // Speed wanders by a fraction of a percent, so the line is looked for in a band.
    let line = band_power(&x, 3_960, 4_040, 1);
    let beside = band_power(&x, 4_400, 4_480, 1);
    assert!(
        db(line / beside) > 6.0,
        "turbine line only {:.1} dB above its surroundings",
        db(line / beside)
    );
    let tail = band_power(&x, 118, 122, 1);
    let between = band_power(&x, 170, 190, 1);
    assert!(
        db(tail / between) > 6.0,
        "tail rotor only {:.1} dB above",
        db(tail / between)
    );
}

#[test]
fn gusts_come_and_go() {
    let x = Preset::Gusty
        .parameters()
        .generate(30 * SAMPLE_RATE as usize, 2);
    let mut levels: Vec<f64> = x
        .chunks_exact(SAMPLE_RATE as usize / 4)
        .map(|c| c.iter().map(|v| f64::from(*v).powi(2)).sum())
        .collect();
    levels.sort_by(f64::total_cmp);
    let (calm, gust) = (levels[levels.len() / 10], levels[levels.len() * 9 / 10]);
    assert!(
        db(gust / calm) > 4.0,
        "only {:.1} dB between calm and gust",
        db(gust / calm)
    );
}

#[test]
fn nothing_is_clipped() {
    for preset in Preset::ALL {
        let x = preset.parameters().generate(5 * SAMPLE_RATE as usize, 1);
        let peak = x.iter().fold(0.0f32, |m, v| m.max(v.abs()));
        assert!(peak < 1.0, "{} reaches {peak}", preset.name());
    }
}

/// Half a second of silence, a second of tone, half a second of silence.
fn spoken() -> Vec<f32> {
    let tone = (0..16_000).map(|i| 0.05 * (TAU * 300.0 * f64::from(i) / RATE).sin() as f32);
    std::iter::repeat_n(0.0, 8_000)
        .chain(tone)
        .chain(std::iter::repeat_n(0.0, 8_000))
        .collect()
}

#[test]
fn a_mix_has_the_ratio_asked_for_whatever_the_silence() {
    let noise = Preset::LightTwoBlade.parameters().generate(40_000, 4);
    for snr in [20.0, 10.0, 5.0, 0.0, -5.0] {
        let speech = spoken();
        let mixed = mix(&speech, &noise, snr).expect("both hold sound");
        // What was added, measured against the tone's known power of 0.05²/2 over its own second.
        let added: f64 = (8_000..24_000)
            .map(|i| f64::from(mixed[i] - speech[i]).powi(2))
            .sum::<f64>()
            / 16_000.0;
        let got = db(0.001_25 / added);
        assert!((got - snr).abs() < 0.05, "asked {snr} dB, got {got:.2}");
    }
}

#[test]
fn a_loud_mix_is_turned_down_as_a_whole() {
    let speech: Vec<f32> = spoken().iter().map(|v| v * 15.0).collect();
    let noise = Preset::Heavy.parameters().generate(32_000, 4);
    let mixed = mix(&speech, &noise, 0.0).expect("both hold sound");
    let peak = mixed.iter().fold(0.0f32, |m, v| m.max(v.abs()));
    assert!((0.97..=0.991).contains(&peak), "{peak}");
}

#[test]
fn silence_can_not_be_mixed() {
    let noise = Preset::Heavy.parameters().generate(1_600, 4);
    assert_eq!(mix(&[0.0; 1_600], &noise, 10.0), Err(MixError::NoSpeech));
    assert_eq!(mix(&[], &noise, 10.0), Err(MixError::NoSpeech));
    assert_eq!(mix(&spoken(), &[], 10.0), Err(MixError::NoNoise));
    assert_eq!(mix(&spoken(), &[0.0; 100], 10.0), Err(MixError::NoNoise));
}

#[test]
fn names_are_read_back() {
    for preset in Preset::ALL {
        assert_eq!(preset.name().parse(), Ok(preset));
    }
    let error = "loud".parse::<Preset>().expect_err("no such preset");
    assert!(error.to_string().contains("light-two-blade"));
}

/// Writes 30 s of every preset to `PAD_NOISE_OUT`, for listening.
#[test]
#[ignore = "writes files; set PAD_NOISE_OUT to a folder"]
fn write_for_listening() {
    let folder = std::path::PathBuf::from(
        std::env::var_os("PAD_NOISE_OUT").expect("PAD_NOISE_OUT names a folder"),
    );
    std::fs::create_dir_all(&folder).expect("the folder can be made");
    for preset in Preset::ALL {
        for seed in 1..=3 {
            let spec = hound::WavSpec {
                channels: 1,
                sample_rate: SAMPLE_RATE,
                bits_per_sample: 16,
                sample_format: hound::SampleFormat::Int,
            };
            let path = folder.join(format!("{}-{seed}.wav", preset.name()));
            let mut file = hound::WavWriter::create(path, spec).expect("a file can be made");
            for v in preset
                .parameters()
                .generate(30 * SAMPLE_RATE as usize, seed)
            {
                file.write_sample((v * 32_767.0) as i16)
                    .expect("samples can be written");
            }
            file.finalize().expect("the file can be closed");
        }
    }
}
