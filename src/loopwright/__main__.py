"""`python -m loopwright` is the same as the `loopwright` command."""

from loopwright.cli import main

if __name__ == "__main__":
    main()
