//! Which of the processor's vector instructions are used.

use pulp::Arch;

/// Those found, but for AVX-512: in short loops it loses more than it gains, and where its registers have been in use a
/// decoder that is built for older processors has been seen to take four times as long.
pub(crate) fn arch() -> Arch {
    #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
    if let Some(shorter) = pulp::x86::V3::try_new() {
        return Arch::V3(shorter);
    }
    Arch::new()
}
