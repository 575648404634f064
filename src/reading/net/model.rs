//! The net itself, run by the `rten` crate on one thread.

use super::prepare::{HEIGHT, Picture};
use rten::{RunOptions, ThreadPool};
use rten_tensor::NdTensor;
use rten_tensor::prelude::*;
use std::sync::Arc;

/// Weights in half precision as ONNX, written by `training/export.py`; input [1, 1, 40, width], output
/// [1, classes, width / 4].
static WEIGHTS: &[u8] = include_bytes!("strip-reader.onnx");

pub(super) struct Model {
    net: rten::Model,
    /// One thread: sheets are read side by side by several workers.
    threads: Arc<ThreadPool>,
}

/// What the net said: for every column a logit for each class.
pub(super) struct Logits {
    /// Class after class, each with its columns from left to right.
    pub values: Vec<f32>,
    pub columns: usize,
}

impl Model {
    pub fn load() -> Result<Self, String> {
        let net = rten::Model::load_static_slice(WEIGHTS).map_err(|fault| fault.to_string())?;
        let threads = Arc::new(ThreadPool::with_num_threads(1));
        Ok(Self { net, threads })
    }

    pub fn run(&self, picture: &Picture) -> Result<Logits, String> {
        let shape = [1, 1, HEIGHT as usize, picture.width];
        let input = NdTensor::from_data(shape, picture.pixels.clone());
        let options = RunOptions::default().with_thread_pool(Some(self.threads.clone()));
        let output = self
            .net
            .run_one(input.view().into(), Some(options))
            .map_err(|fault| fault.to_string())?;
        let output: NdTensor<f32, 3> = output
            .try_into()
            .map_err(|_| "the net's output has not three dimensions".to_owned())?;
        Ok(Logits {
            columns: output.size(2),
            values: output.to_vec(),
        })
    }
}
