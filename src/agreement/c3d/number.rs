//! The three ways in which C3D files store numbers.

/// Who wrote the file, which tells byte order and floating-point format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Processor {
    /// Little-endian, IEEE floats.
    Intel,
    /// Little-endian words, VAX floats.
    Dec,
    /// Big-endian, IEEE floats.
    Mips,
}

impl Processor {
    const ALL: [Self; 3] = [Self::Intel, Self::Dec, Self::Mips];

    /// The processor of a code in the parameter section; `None` for an unknown one.
    pub fn from_code(code: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.code() == code)
    }

    /// The code in the parameter section.
    pub fn code(self) -> u8 {
        84 + self as u8
    }

    /// A 16-bit number from its bytes.
    pub fn u16(self, b: [u8; 2]) -> u16 {
        match self {
            Self::Intel | Self::Dec => u16::from_le_bytes(b),
            Self::Mips => u16::from_be_bytes(b),
        }
    }

    /// A 32-bit floating-point number from its bytes.
    pub fn f32(self, b: [u8; 4]) -> f32 {
        let [b0, b1, b2, b3] = b;
        match self {
            Self::Intel => f32::from_le_bytes(b),
            // The words are swapped and the exponent is two higher.
            Self::Dec => f32::from_le_bytes([b2, b3, b0, b1]) / 4.0,
            Self::Mips => f32::from_be_bytes(b),
        }
    }

    /// The bytes of a 16-bit number.
    pub fn put_u16(self, v: u16) -> [u8; 2] {
        match self {
            Self::Intel | Self::Dec => v.to_le_bytes(),
            Self::Mips => v.to_be_bytes(),
        }
    }

    /// The bytes of a 32-bit floating-point number.
    pub fn put_f32(self, v: f32) -> [u8; 4] {
        match self {
            Self::Intel => v.to_le_bytes(),
            Self::Dec => {
                // A negative zero is no number there.
                let v = if v == 0.0 { 0.0 } else { v * 4.0 };
                let [b0, b1, b2, b3] = v.to_le_bytes();
                [b2, b3, b0, b1]
            }
            Self::Mips => v.to_be_bytes(),
        }
    }
}

/// Bytes at an offset, `None` past the end.
pub fn at<const N: usize>(bytes: &[u8], offset: usize) -> Option<[u8; N]> {
    bytes
        .get(offset..offset.checked_add(N)?)
        .and_then(|s| s.try_into().ok())
}
