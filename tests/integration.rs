//! One binary of integration tests: fewer links, faster runs.

mod layering;
