//! What the networks run on: this computer's processor, or something faster that the runtime
//! library knows.

use ort::ep::{self, ExecutionProviderDispatch};

use crate::terms::keyed;

keyed! {
    /// What networks can be asked to run on, the usual one first.
    #[derive(Default)]
    pub enum Provider {
        /// The processor, by the runtime library's own code. Always there.
        #[default]
        Processor = "processor",
        /// Graphics cards by NVIDIA.
        Cuda = "cuda",
        /// Apple's own, on macOS.
        CoreMl = "coreml",
        /// Graphics cards on Windows.
        DirectMl = "directml",
        /// Processors and graphics by Intel.
        OpenVino = "openvino",
        /// Other code for the processor, made for phones.
        Xnnpack = "xnnpack",
    }
}

impl Provider {
    /// How a session is told; `None` for the processor, which needs no telling.
    pub fn dispatch(self) -> Option<ExecutionProviderDispatch> {
        let told = match self {
            Self::Processor => return None,
            Self::Cuda => ep::CUDA::default().build(),
            Self::CoreMl => ep::CoreML::default().build(),
            Self::DirectMl => ep::DirectML::default().build(),
            Self::OpenVino => ep::OpenVINO::default().build(),
            Self::Xnnpack => ep::XNNPACK::default().build(),
        };
        Some(told.error_on_failure())
    }
}
