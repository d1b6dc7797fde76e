//! pinch_off
