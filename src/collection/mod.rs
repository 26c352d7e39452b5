//! (to be filled)
