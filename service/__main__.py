"""`python -m service` is the same as the installed command."""

from service.cli import main

if __name__ == "__main__":
    main()
