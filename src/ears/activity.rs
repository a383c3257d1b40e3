//! The Silero voice activity network through a pure-Rust runtime.

use crate::ears::EarsError;
use rten::{Model, NodeId, RunOptions, ThreadPool};
use rten_tensor::NdTensor;
use rten_tensor::prelude::*;
use std::path::Path;
use std::sync::Arc;

/// Samples of one judgement: 32 ms at 16 kHz.
pub const CHUNK: usize = 512;
/// Samples of the chunk before that the network sees again.
const CONTEXT: usize = 64;

/// Tells speech from everything else, chunk by chunk.
pub struct SpeechActivity {
    model: Model,
    pool: Arc<ThreadPool>,
    inputs: [NodeId; 3],
    outputs: [NodeId; 2],
    state: NdTensor<f32, 3>,
    context: [f32; CONTEXT],
}

impl SpeechActivity {
    /// Loads the network.
    ///
    /// # Errors
    /// [`EarsError::Model`] when the file is not the network.
    pub fn load(path: &Path) -> Result<Self, EarsError> {
        let fail = |cause: String| EarsError::Model {
            path: path.to_owned(),
            cause,
        };
        let model = Model::load_file(path).map_err(|e| fail(e.to_string()))?;
        let node = |name: &str| model.node_id(name).map_err(|e| fail(e.to_string()));
        let inputs = [node("input")?, node("state")?, node("sr")?];
        let outputs = [node("output")?, node("stateN")?];
        Ok(Self {
            model,
            // One thread: the network is far too small to share out.
            pool: Arc::new(ThreadPool::with_num_threads(1)),
            inputs,
            outputs,
            state: NdTensor::zeros([2, 1, 128]),
            context: [0.0; CONTEXT],
        })
    }

    /// Forgets everything heard.
    pub fn reset(&mut self) {
        self.state = NdTensor::zeros([2, 1, 128]);
        self.context = [0.0; CONTEXT];
    }

    /// Begins anew within a stream: all that is kept is the sound just before.
    pub fn renew(&mut self) {
        self.state = NdTensor::zeros([2, 1, 128]);
    }

    /// Probability that this chunk holds speech, 0 to 1, given the chunks before.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when the network cannot be run.
    pub fn probability(&mut self, chunk: &[f32; CHUNK]) -> Result<f32, EarsError> {
        let fail = |cause: String| EarsError::Engine { cause };
        let mut input = Vec::with_capacity(CONTEXT + CHUNK);
        input.extend_from_slice(&self.context);
        input.extend_from_slice(chunk);
        self.context.copy_from_slice(&chunk[CHUNK - CONTEXT..]);
        let input = NdTensor::from_data([1, CONTEXT + CHUNK], input);
        let rate = NdTensor::from(16_000_i32);
        let mut options = RunOptions::default();
        options.thread_pool = Some(self.pool.clone());
        let [output, state] = self
            .model
            .run_n(
                vec![
                    (self.inputs[0], input.into()),
                    (self.inputs[1], self.state.view().into()),
                    (self.inputs[2], rate.into()),
                ],
                self.outputs,
                Some(options),
            )
            .map_err(|e| fail(e.to_string()))?;
        self.state = state
            .try_into()
            .map_err(|_| fail("unexpected shape of the activity state".into()))?;
        let output: NdTensor<f32, 2> = output
            .try_into()
            .map_err(|_| fail("unexpected shape of the activity output".into()))?;
        Ok(output[[0, 0]])
    }
}
