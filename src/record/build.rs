//! What this program was built from (set by build.rs). Runs of different builds are never joined into one record or map.

/// Hash of the sources that a run's numbers follow from.
pub const SOURCES: &str = env!("SLENDERJET_SOURCES");
/// Commit of the sources; a `+` behind it where they were changed since.
pub const COMMIT: &str = env!("SLENDERJET_COMMIT");
pub const COMPILER: &str = env!("SLENDERJET_COMPILER");
/// For example `x86_64-unknown-linux-gnu`.
pub const PLATFORM: &str = env!("SLENDERJET_PLATFORM");

/// What must be the same where numbers are to be joined: sources and kind of processor. Operating system, C library and compiler change
/// no bit (IEEE 754 arithmetic without fused products, transcendental functions compiled in: `crate::math`).
pub(super) fn numbers() -> String {
    format!("{SOURCES} {}", std::env::consts::ARCH)
}
