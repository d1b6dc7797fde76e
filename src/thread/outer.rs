//! The outer liquid's forces on the nodes.

/// The outer stream, scaled (connected in a later commit).
#[derive(Debug, Clone)]
pub struct OuterField {}

/// Per-cell values of the outer terms.
#[derive(Debug, Clone, Default)]
pub struct OuterWork {}
