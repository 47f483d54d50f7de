"""Runs a module of this package on the database that the environment names: `python -m … inside data 1000`."""

import signal
import sys
from importlib import import_module

import django

if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # what it started is ended then, too
    django.setup()
    import_module(f"tests.benchmarks.size.{sys.argv[1]}").main(*sys.argv[2:])
