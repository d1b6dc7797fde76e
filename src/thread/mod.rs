//! thread
