"""Run the verbs: ``python -m chantwright``."""

from chantwright.cli import main

if __name__ == "__main__":
    main(prog_name="chantwright")
