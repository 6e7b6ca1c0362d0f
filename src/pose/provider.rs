//! What the networks run on: this computer's processor, or something faster that the runtime
//! library knows.

use ort::ep::{self, ExecutionProviderDispatch};
use serde::{Deserialize, Serialize};

/// What networks can be asked to run on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Provider {
    /// The processor, by the runtime library's own code. Always there.
    #[default]
    Processor,
    /// Graphics cards by NVIDIA.
    Cuda,
    /// Apple's own, on macOS.
    CoreMl,
    /// Graphics cards on Windows.
    DirectMl,
    /// Processors and graphics by Intel.
    OpenVino,
    /// Other code for the processor, made for phones.
    Xnnpack,
}

impl Provider {
    /// All of them, the usual one first.
    pub const ALL: [Self; 6] = [
        Self::Processor,
        Self::Cuda,
        Self::CoreMl,
        Self::DirectMl,
        Self::OpenVino,
        Self::Xnnpack,
    ];

    /// The word for it on the command line and in results.
    pub fn key(self) -> &'static str {
        match self {
            Self::Processor => "processor",
            Self::Cuda => "cuda",
            Self::CoreMl => "coreml",
            Self::DirectMl => "directml",
            Self::OpenVino => "openvino",
            Self::Xnnpack => "xnnpack",
        }
    }

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
