//! Corrections of fetched weights.

use super::*;

/// A safetensors file of 16-bit floats, by the reference library.
fn file(all: &[(&str, &[usize], &[f32])]) -> Vec<u8> {
    use safetensors::tensor::{Dtype, TensorView};
    let data: Vec<(String, Vec<usize>, Vec<u8>)> = all
        .iter()
        .map(|(name, shape, values)| {
            let bytes = values
                .iter()
                .flat_map(|v| half::f16::from_f32(*v).to_le_bytes());
            ((*name).to_owned(), shape.to_vec(), bytes.collect())
        })
        .collect();
    let views = data.iter().map(|(name, shape, bytes)| {
        (
            name,
            TensorView::new(Dtype::F16, shape.clone(), bytes).unwrap(),
        )
    });
    safetensors::serialize(views, None).unwrap()
}

fn rows(rows: &[(&str, &[f32])]) -> Vec<u8> {
    let shapes: Vec<[usize; 1]> = rows.iter().map(|(_, row)| [row.len()]).collect();
    let all: Vec<_> = rows
        .iter()
        .zip(&shapes)
        .map(|((name, row), shape)| (*name, &shape[..], *row))
        .collect();
    file(&all)
}

#[test]
fn factors_are_multiplied_and_added_to_their_matrix() {
    // A matrix of 64 by 64: row r and column c get 2 r' c' where r' and c' are 1 in one place each, and 1/4 more
    // from the second rank in the last row.
    let name = "decoder/layer_0/attention/linear_2/weight";
    let (mut left, mut right) = (vec![0.0; 64 * 2], vec![0.0; 2 * 64]);
    (left[3 * 2], right[5]) = (2.0, 1.0);
    (left[63 * 2 + 1], right[64 + 63]) = (0.5, 0.5);
    let (left_name, right_name) = (format!("{name}:left"), format!("{name}:right"));
    let file = file(&[
        (&left_name, &[64, 2], &left),
        (&right_name, &[2, 64], &right),
    ]);
    let corrections = Corrections::read(&file).unwrap();
    let added = corrections.of(name, &[64, 64]).unwrap().unwrap();
    for (at, value) in added.iter().enumerate() {
        let due = match (at / 64, at % 64) {
            (3, 5) => 2.0,
            (63, 63) => 0.25,
            _ => 0.0,
        };
        assert_eq!(*value, due, "row {}, column {}", at / 64, at % 64);
    }
    let source = small(&[]).bytes();
    let before = tensors(&convert(&source, &[]), 0);
    let after = tensors(
        &written(&source, &[], Matrices::F16, &corrections).unwrap(),
        0,
    );
    let changed: Vec<&str> = before
        .iter()
        .zip(&after)
        .filter(|(old, new)| old.3 != new.3)
        .map(|(old, _)| old.0.as_str())
        .collect();
    assert_eq!(changed, ["decoder.blocks.0.cross_attn.out.weight"]);
}

#[test]
fn corrections_are_added_where_they_belong_and_nowhere_else() {
    // The stack of query, key and value loses the key's bias, so what is added to the value must not slip.
    let stacked = "decoder/layer_0/self_attention/linear_0/bias";
    let norm = "encoder/layer_norm/gamma";
    let more: Vec<f32> = (0..192).map(|i| if i < 128 { 0.0 } else { 0.5 }).collect();
    let file = rows(&[(stacked, &more), (norm, &[-0.25; 64])]);
    let corrections = Corrections::read(&file).unwrap();
    let source = small(&[]).bytes();
    let out = written(&source, &[], Matrices::F16, &corrections).unwrap();
    let before = tensors(&convert(&source, &[]), 0);
    for (old, new) in before.iter().zip(tensors(&out, 0)) {
        let due = match old.0.as_str() {
            "decoder.blocks.0.attn.value.bias" => 0.5,
            "encoder.ln_post.weight" => -0.25,
            _ => 0.0,
        };
        assert_eq!(old.0, new.0);
        assert!(
            old.3.iter().zip(&new.3).all(|(a, b)| a + due == *b),
            "{}",
            old.0
        );
    }
}

#[test]
fn corrections_of_another_model_are_refused() {
    let source = small(&[]).bytes();
    let fault = |file: &[u8]| written(&source, &[], Matrices::F16, &Corrections::read(file)?);
    for (file, says) in [
        (
            rows(&[("encoder/layer_9/ffn/linear_1/bias", &[0.0; 64])]),
            "has no encoder/layer_9",
        ),
        (
            rows(&[("encoder/layer_norm/gamma", &[0.0; 65])]),
            "65 numbers for",
        ),
        (
            rows(&[("encoder/layer_norm/gamma", &[f32::NAN; 64])]),
            "no number",
        ),
        (
            file(&[("encoder/layer_0/ffn/linear_0/weight", &[2, 2], &[0.0; 4])]),
            "no row",
        ),
        (
            file(&[(
                "encoder/layer_0/ffn/linear_0/weight:left",
                &[2, 2],
                &[0.0; 4],
            )]),
            "has no encoder/layer_0/ffn/linear_0/weight:right",
        ),
        (
            file(&[(
                "encoder/layer_0/ffn/linear_0/weight:right",
                &[2, 2],
                &[0.0; 4],
            )]),
            "has no encoder/layer_0/ffn/linear_0/weight:left",
        ),
        (
            file(&[
                (
                    "encoder/layer_0/ffn/linear_0/weight:left",
                    &[2, 1],
                    &[0.0; 2],
                ),
                (
                    "encoder/layer_0/ffn/linear_0/weight:right",
                    &[2, 2],
                    &[0.0; 4],
                ),
            ]),
            "rank 1 and 2",
        ),
        (
            file(&[
                (
                    "encoder/layer_0/ffn/linear_0/weight:left",
                    &[2, 2],
                    &[0.0; 4],
                ),
                (
                    "encoder/layer_0/ffn/linear_0/weight:right",
                    &[2, 2],
                    &[0.0; 4],
                ),
            ]),
            "not of its size",
        ),
        (b"{}".to_vec(), "corrections"),
    ] {
        let why = fault(&file).unwrap_err().to_string();
        assert!(why.contains(says), "{why}");
    }
}
