//! Sound to answer: end-pointing, recogniser, and the decision to take, confirm or refuse.
