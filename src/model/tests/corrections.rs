//! Corrections of fetched weights.

use super::*;

/// A safetensors file of rows of 16-bit floats, by the reference library.
fn rows(rows: &[(&str, &[f32])]) -> Vec<u8> {
    use safetensors::tensor::{Dtype, TensorView};
    let data: Vec<(String, usize, Vec<u8>)> = rows
        .iter()
        .map(|(name, row)| {
            let bytes = row
                .iter()
                .flat_map(|v| half::f16::from_f32(*v).to_le_bytes());
            ((*name).to_owned(), row.len(), bytes.collect())
        })
        .collect();
    let views = data.iter().map(|(name, count, bytes)| {
        (
            name,
            TensorView::new(Dtype::F16, vec![*count], bytes).unwrap(),
        )
    });
    safetensors::serialize(views, None).unwrap()
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
        (b"{}".to_vec(), "corrections"),
    ] {
        let why = fault(&file).unwrap_err().to_string();
        assert!(why.contains(says), "{why}");
    }
}
