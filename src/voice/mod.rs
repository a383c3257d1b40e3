//! Words to sound.
