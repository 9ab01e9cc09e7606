"""Lets ``python -m blendkit`` run the command line."""

from blendkit.cli import main

if __name__ == "__main__":
    main()
