"""``python -m evenhand``."""

from evenhand.cli.app import main

if __name__ == "__main__":
    main()
