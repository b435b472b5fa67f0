#!/usr/bin/env python3
"""Holds README's table of faults against the tests that show each row: fault_matrix.py [ROOT]. See fault_matrix.toml."""
import re
import sys
import tomllib
from pathlib import Path


def rows_of(readme):
    """The faults of the table, in its order."""
    section = re.search(r"^### What happens when something fails\n(.*?)^#", readme, re.M | re.S)
    if not section:
        return []
    lines = [line for line in section.group(1).splitlines() if line.startswith("|")]
    return [line.split("|")[1].strip() for line in lines[2:]]  # after the heading and its line


def is_there(root, test):
    name, wanted = test.split(" ", 1)
    path = root / name
    if not path.is_file():
        return False
    text = path.read_text()
    if path.suffix == ".cpp":
        suite, case = wanted.split(".")
        return bool(re.search(rf"^TEST(?:_F|_P)?\({suite}, {case}\)", text, re.M))
    return bool(re.search(rf"^    def {re.escape(wanted)}\(self", text, re.M)) or f'Fault("{wanted}",' in text


def problems(root):
    rows = rows_of((root / "README.md").read_text())
    matrix = tomllib.loads((root / "tests/fault_matrix.toml").read_text())
    if not rows:
        yield 'README.md has no table under "What happens when something fails"'
    for row in rows:
        if not matrix.get(row):
            yield f'README.md: "{row}": no test in tests/fault_matrix.toml shows it'
    for row, tests in matrix.items():
        if row not in rows:
            yield f'tests/fault_matrix.toml: "{row}" is no row of README.md'
        for test in tests:
            if not is_there(root, test):
                yield f'tests/fault_matrix.toml: "{row}": there is no {test}'


def main():
    root = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parents[1]
    found = list(problems(root))
    print(*found or ["every row has its tests"], sep="\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
