"""Add up what pytest counted, and fail where a test was not run by either command."""

import re
import sys
from pathlib import Path


def counts(log: str) -> dict[str, int]:
    """Return the words and numbers of pytest's closing line."""
    closing = [line for line in log.splitlines() if re.search(r"\d+ passed.* in [\d.]+s", line)][-1]
    return {word: int(number) for number, word in re.findall(r"(\d+) (\w+)", closing.split(" in ")[0])}


def main() -> None:
    """Compare the two runs: each test must have been run, and passed, by one of them."""
    first, second = (counts(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:3])
    for word in ("failed", "error", "errors", "skipped", "xfailed", "xpassed"):
        if first.get(word, 0) + second.get(word, 0):
            sys.exit(f"{word}: {first.get(word, 0)} + {second.get(word, 0)}")
    passed = first.get("passed", 0) + second.get("passed", 0)
    # With workers, pytest does not count what it left out; the second run counts all of the first's.
    every = second.get("passed", 0) + second.get("deselected", 0)
    if passed != every:
        sys.exit(f"{every - passed} tests were run by neither command")
    print(f"{passed} passed, 0 failed")


if __name__ == "__main__":
    main()
