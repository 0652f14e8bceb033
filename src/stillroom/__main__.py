"""`python -m stillroom`."""

import sys

if __name__ == "__main__":
    try:
        from stillroom.cli import main

        main()
    except KeyboardInterrupt:
        sys.exit("Stopped. What is done is kept; the next run goes on.")
