//! Sound files, devices and resampling.
