"""The tests, and the tools that share their generator: benchmarks and the fuzzing run."""
