#!/usr/bin/env python3
"""Reads the sources and refuses what the house rules forbid and no compiler notices.

    tidy.py [ROOT]

Prints FILE:LINE: what is wrong and what to do; exit 1 if there was anything. tests/tidy_test.py shows that each rule
fires.
"""
import os
import re
import sys
from pathlib import Path

# Who may include whom: folders, or single headers of a folder.
ARROWS = {
    "compensation": [],
    "alarms": [],
    "control": ["alarms/time.hpp"],
    "drivers": ["compensation/quantity.hpp"],
    "config": ["alarms/", "compensation/", "control/", "drivers/register_map.hpp", "drivers/bus_address.hpp"],
    "daemon": ["alarms/", "compensation/", "config/", "control/", "drivers/"],
    "demo": ["compensation/", "drivers/"],
    "tests": ["alarms/", "compensation/", "config/", "control/", "daemon/", "demo/", "drivers/"],
}
PURE = ("compensation", "alarms", "control")
IMPURE = [
    (r"::\s*now\s*\(|\b(?:clock_gettime|gettimeofday|time)\s*\(\s*(?:nullptr|NULL|0|CLOCK_)", "reads a clock",
     "take the time as an argument"),
    (r"\b(?:sleep_for|sleep_until|usleep|nanosleep|sleep)\s*\(", "sleeps", "let the caller count the time"),
    (r"\bstd\s*::\s*(?:jthread|thread|async|mutex|recursive_mutex|shared_mutex|condition_variable|atomic)\b"
     r"|#\s*include\s*<(?:thread|mutex|shared_mutex|future|condition_variable|atomic)>|\bpthread_\w+",
     "uses threads", "leave threads to the daemon"),
    (r"\b(?:secure_)?getenv\s*\(|\bstd\s*::\s*[io]?fstream\b|#\s*include\s*<(?:fstream|filesystem)>"
     r"|\b(?:fopen|freopen)\s*\(|\bstd\s*::\s*filesystem\b", "reads a file or the environment",
     "take the values as arguments"),
]
SOURCE = {".cpp", ".hpp"}
LENGTH = SOURCE | {".py", ".js", ".css", ".html", ".cmake", ".sh"}
TEXT = LENGTH | {".toml", ".md", ".json", ".in", ".txt", ".service", ".conf", ".yaml", ".yml", ".csv", ""}
SKIPPED = {".git", "node_modules", "__pycache__"}
LEFT_OVER = re.compile(r"\b(?:" + "|".join(["FIX" + "ME", "TO" + "DO", "X" * 3]) + r")\b")
MACHINE_PATH = re.compile(r"(?<![\w.~)}\-])/" + r"(?:tmp/wt|work)(?![\w.\-])")
INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*"([^"]*)"', re.M)
DATA_MARK = "published data"


def files(root):
    """Every file of the project; not what a build or a test leaves behind."""
    for folder, folders, names in os.walk(root):
        here = Path(folder)
        folders[:] = sorted(f for f in folders if f not in SKIPPED and not (here / f / "CMakeCache.txt").exists())
        if here == root:
            folders[:] = [f for f in folders if f != "build"]
        for name in sorted(set(names) - SKIPPED):  # a linked working tree has a file named .git
            yield here / name


def blanked(text, keep_strings=False):
    """C++ without its comments (and strings), every character that is left at its old place."""
    pattern = re.compile(
        r'R"(?P<tag>[^()\s\\]{0,16})\(.*?\)(?P=tag)"'  # raw string
        r'|"(?:\\.|[^"\\\n])*"'
        r"|(?<![0-9A-Za-z_])'(?:\\.|[^'\\\n])+'"  # a character, not a digit separator
        r"|(?P<comment>//[^\n]*|/\*.*?\*/)", re.S)

    def blank(match):
        if keep_strings and match.group("comment") is None:
            return match.group(0)
        return re.sub(r"[^\n]", " ", match.group(0))

    return pattern.sub(blank, text)


def line_of(text, position):
    return text.count("\n", 0, position) + 1


def check_includes(name, text):
    folder = name.split("/")[0]
    if folder not in ARROWS:
        return
    for match in INCLUDE.finditer(blanked(text, keep_strings=True)):
        wanted, line = match.group(1), line_of(text, match.start())
        target = wanted.split("/")[0]
        if "/" not in wanted or target not in ARROWS:
            yield line, f'"{wanted}" is not a path from the root of the project: write "FOLDER/{wanted}"'
        elif ".." in wanted.split("/"):
            yield line, f'"{wanted}" climbs out of its folder: write the path from the root of the project'
        elif target != folder and not any(wanted == arrow or (arrow.endswith("/") and wanted.startswith(arrow))
                                          for arrow in ARROWS[folder]):
            allowed = ", ".join(ARROWS[folder]) or "nothing of ours"
            yield line, f'{folder}/ may not include "{wanted}": it may use {allowed}'


def check_purity(name, text):
    if name.split("/")[0] not in PURE:
        return
    code = blanked(text)
    for pattern, what, remedy in IMPURE:
        for match in re.finditer(pattern, code):
            yield line_of(code, match.start()), f"a pure folder {what} ({match.group(0).strip()}): {remedy}"


def check_length(name, text):
    in_tests = name.startswith("tests/")
    limit = 600 if in_tests else 400
    lines = text.count("\n") + (0 if text.endswith("\n") or not text else 1)
    if lines <= limit:
        return
    if (in_tests or name.startswith("demo/")) and DATA_MARK in "\n".join(text.splitlines()[:10]):
        return
    yield limit + 1, (f"{lines} lines, at most {limit} are allowed: divide the file by what it is about"
                      f' (tables in tests/ and demo/ say "{DATA_MARK}" at their head)')


def after_template(code, position):
    """The position behind `<...>` that starts at or after `position`, or None."""
    position = re.compile(r"\s*").match(code, position).end()
    if position >= len(code) or code[position] != "<":
        return None
    depth = 0
    for i in range(position, len(code)):
        depth += {"<": 1, ">": -1}.get(code[i], 0)
        if depth == 0:
            return i + 1
    return None


DECLARED = re.compile(r"\s*[&*]*\s*(?:[A-Za-z_]\w*\s*::\s*)*(?:[A-Za-z_]\w*|operator\s*[^\s\w(]+|operator\s*\(\s*\))\s*\(")


def check_nodiscard(name, text):
    if not name.endswith(".hpp"):
        return
    code = blanked(text)
    # The type itself, and every name this header gives it.
    names = [r"\btl\s*::\s*expected\b"]
    names += [rf"\b{alias}\b" for alias in re.findall(r"\busing\s+(\w+)\s*=\s*tl\s*::\s*expected\b", code)]
    for match in re.finditer("|".join(names), code):
        end = after_template(code, match.end()) or match.end()
        start = max(code.rfind(mark, 0, match.start()) for mark in ";{}") + 1
        lead = re.sub(r"^\s*(?:(?:public|protected|private)\s*:|#[^\n]*\n|\s)*", "", code[start:match.start()])
        trailing = re.search(r"\bauto\b.*\)[^()]*->\s*$", lead, re.S)
        # In `f(tl::expected<...> g(...))` or a template argument it is no result of a declaration.
        outer = re.sub(r"\[\[.*?\]\]|template\s*<[^;{}]*?>", "", lead, flags=re.S)
        nested = outer.count("(") != outer.count(")") or outer.count("<") != outer.count(">")
        if lead.startswith("using") or "=" in outer or "return" in outer.split():
            continue
        if not trailing and (nested or not DECLARED.match(code, end)):
            continue
        if "nodiscard" not in lead:
            yield line_of(code, match.start()), "a function returns tl::expected without [[nodiscard]]: put it in front"


def check_words(name, text):
    for match in LEFT_OVER.finditer(text):
        yield line_of(text, match.start()), f"{match.group(0)} is left over: do it now or take it out"
    for match in MACHINE_PATH.finditer(text):
        yield line_of(text, match.start()), f"{match.group(0)} exists on one machine only: use a path inside the project"


def problems(root):
    """(file, line, message) of every breach, in the order of the files."""
    root = Path(root)
    for path in files(root):
        if path.suffix not in TEXT or not path.is_file():
            continue
        name = path.relative_to(root).as_posix()
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            if path.suffix in SOURCE:
                yield name, 1, "is not UTF-8: save it as UTF-8"
            continue
        found = []
        if path.suffix in SOURCE:
            for check in (check_includes, check_purity, check_nodiscard):
                found += check(name, text)
        if path.suffix in LENGTH or path.name == "CMakeLists.txt":
            found += check_length(name, text)
        found += check_words(name, text)
        for line, message in sorted(found):
            yield name, line, message


def main():
    root = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent.parent
    checked = sum(1 for path in files(root) if path.suffix in SOURCE)
    if checked == 0:
        sys.exit(f"{root}: no sources here: name the root of the project")
    found = list(problems(root))
    for name, line, message in found:
        print(f"{name}:{line}: {message}")
    if found:
        sys.exit(f"{len(found)} breaches of the house rules")
    print(f"{checked} source files: nothing to refuse")


if __name__ == "__main__":
    main()
