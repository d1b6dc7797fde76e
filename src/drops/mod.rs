//! drops
