"""`python -m stillroom`."""

from stillroom.cli import main

if __name__ == "__main__":
    main()
