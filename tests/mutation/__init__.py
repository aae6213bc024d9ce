"""A mutation run: small faults put into the modules that promise safety or proof, one at a time.

`python -m tests.mutation --help` says how to run it; it is no part of the suite. The faults are those of cosmic-ray.
Its own runner is not used: it starts a new Python for every fault (about four seconds until the solver and
the tables are loaded, for some thousand faults), writes the faults into the working copy, and has no notion of
which test reaches which line. Here each fault is tried in a fork of one process that has loaded
everything but this project, and only tests that reach the changed line are run, the quickest first.
"""
