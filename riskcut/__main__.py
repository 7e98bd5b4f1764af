"""``python -m riskcut``."""

from riskcut.cli.main import main

if __name__ == "__main__":
    main()
