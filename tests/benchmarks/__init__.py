"""What jobcheck costs, as ratios to other programs within one run.

`python -m tests.benchmarks` prints the tables; nothing here is a timed assertion. Shops are
generated, each process is started afresh, contenders take turns (A B A B), and seconds and peak
memory are those that the operating system counted for that process.
"""
