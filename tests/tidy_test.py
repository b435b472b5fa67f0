#!/usr/bin/env python3
"""Shows that each rule of tidy.py fires, and that what is allowed passes."""
import sys
import tempfile
import unittest
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import tidy  # noqa: E402


def found(**sources):
    """Problems of a tree; `alarms__x_hpp` is alarms/x.hpp."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        for name, text in sources.items():
            path = root / name.replace("__", "/").replace("_", ".")
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return [f"{name}:{line}: {message}" for name, line, message in tidy.problems(root)]


class Includes(unittest.TestCase):
    ALLOWED = [("alarms", "alarms/x.hpp"), ("compensation", "compensation/x.hpp"),
               ("drivers", "compensation/quantity.hpp"), ("config", "alarms/x.hpp"), ("control", "alarms/time.hpp"),
               ("config", "compensation/x.hpp"), ("config", "drivers/register_map.hpp"),
               ("config", "drivers/bus_address.hpp"), ("daemon", "config/x.hpp"), ("daemon", "drivers/x.hpp"),
               ("daemon", "alarms/rules/x.hpp"), ("daemon", "compensation/x.hpp"), ("demo", "drivers/x.hpp"),
               ("demo", "compensation/x.hpp"), ("tests", "daemon/x.hpp"), ("tests", "demo/x.hpp"),
               ("tests", "tests/support/x.hpp")]
    REFUSED = [("alarms", "compensation/quantity.hpp"), ("alarms", "daemon/x.hpp"), ("compensation", "alarms/x.hpp"),
               ("control", "alarms/alarm.hpp"), ("drivers", "compensation/cell.hpp"), ("drivers", "config/x.hpp"),
               ("config", "drivers/poll.hpp"),
               ("config", "daemon/x.hpp"), ("daemon", "demo/x.hpp"), ("daemon", "tests/x.hpp"),
               ("demo", "daemon/x.hpp"), ("demo", "tests/x.hpp"), ("demo", "alarms/x.hpp")]

    def test_along_the_arrows_pass(self):
        for folder, header in self.ALLOWED:
            with self.subTest(folder=folder, header=header):
                self.assertEqual(found(**{f"{folder}__a_cpp": f'#include "{header}"\n'}), [])

    def test_against_the_arrows_are_refused(self):
        for folder, header in self.REFUSED:
            with self.subTest(folder=folder, header=header):
                messages = found(**{f"{folder}__a_cpp": f'\n#  include "{header}"\n'})
                self.assertEqual(len(messages), 1)
                self.assertIn(f'{folder}/a.cpp:2: {folder}/ may not include "{header}": it may use ', messages[0])

    def test_not_from_the_root_are_refused(self):
        self.assertIn('write "FOLDER/limit.hpp"', found(alarms__a_cpp='#include "limit.hpp"\n')[0])
        self.assertIn("not a path from the root", found(alarms__a_cpp='#include "../daemon/x.hpp"\n')[0])
        self.assertIn("climbs", found(alarms__a_cpp='#include "alarms/../daemon/x.hpp"\n')[0])

    def test_in_comments_do_not_count(self):
        self.assertEqual(found(alarms__a_cpp='// #include "daemon/x.hpp"\n/*\n#include "daemon/y.hpp"\n*/\n'), [])


class Purity(unittest.TestCase):
    IMPURE = ["auto t = std::chrono::steady_clock::now();", "auto t = Clock :: now ( );", "auto t = time(nullptr);",
              "clock_gettime(CLOCK_MONOTONIC, &t);", "std::this_thread::sleep_for(1s);", "usleep(10);",
              "std::thread t;", "std::jthread t;", "std::mutex m;", "#include <thread>", "std::atomic<int> n;",
              'auto v = std::getenv("A");', "std::ifstream in;", "std::fstream io;", "#include <fstream>",
              'auto* f = fopen("a", "r");', "#include <filesystem>"]
    PURE = ["// steady_clock::now() is for the daemon", 'auto s = "getenv(";', "Monotonic now{0};", "f(now);",
            "std::this_threading x;", "auto big = 1'000'000; // std::thread", "void pass_time(int);", "pass_time(0);"]

    def test_clocks_sleeps_threads_and_files_are_refused_in_pure_folders(self):
        for line in self.IMPURE:
            for folder in ("alarms", "compensation", "control"):
                with self.subTest(line=line, folder=folder):
                    messages = found(**{f"{folder}__rules__a_cpp": f"int a;\n{line}\n"})
                    self.assertEqual(len(messages), 1, messages)
                    self.assertRegex(messages[0], rf"^{folder}/rules/a\.cpp:2: a pure folder .+: \w+")

    def test_they_pass_elsewhere(self):
        for line in self.IMPURE:
            self.assertEqual(found(daemon__a_cpp=line + "\n"), [])

    def test_likenesses_pass(self):
        for line in self.PURE:
            with self.subTest(line=line):
                self.assertEqual(found(alarms__a_cpp=line + "\n"), [])


class Length(unittest.TestCase):
    def test_files_are_limited(self):
        self.assertEqual(found(daemon__a_cpp="int a;\n" * 400, tests__a_cpp="int a;\n" * 600), [])
        self.assertIn("daemon/a.cpp:401: 401 lines, at most 400", found(daemon__a_cpp="int a;\n" * 401)[0])
        self.assertIn("tests/a.py:601: 601 lines, at most 600", found(tests__a_py="a = 1\n" * 601)[0])
        self.assertIn("401 lines", found(daemon__a_cpp="int a;\n" * 400 + "int b;")[0])

    def test_marked_tables_pass_in_tests_and_demo_only(self):
        table = "// published data\n" + "1,\n" * 700
        self.assertEqual(found(tests__a_cpp=table, demo__a_cpp=table), [])
        self.assertEqual(len(found(daemon__a_cpp=table)), 1)
        self.assertEqual(len(found(tests__a_cpp="1,\n" * 700 + "// published data\n")), 1)


class Nodiscard(unittest.TestCase):
    MISSING = ["tl::expected<int, Error> read();", "static tl::expected<std::map<int, int>, Error> read(int);",
               "virtual tl::expected<int,\n    Error>\nread(int) = 0;", "auto read(int a) -> tl::expected<int, Error>;",
               "template <class T> tl::expected<T, Error> read(T t);", "public:\n  tl::expected<int, Error> read();",
               "tl::expected<int, Error> operator()(int);", "using Result = tl::expected<int, Error>;\nResult read();",
               "#pragma once\ntl::expected<int, Error> read();",
               "inline tl::expected<int, Error> read() { return 1; }"]
    FINE = ["[[nodiscard]] tl::expected<int, Error> read();", "[[nodiscard]] virtual tl::expected<int, Error> r() = 0;",
            "[[nodiscard]] auto read(int a) -> tl::expected<int, Error>;", "using Result = tl::expected<int, Error>;",
            "void take(tl::expected<int, Error> value);", "std::function<tl::expected<int, Error>(int)> f;",
            "tl::expected<int, Error> member_;", "/// tl::expected<int, Error> read();",
            "template <class T> [[nodiscard]] tl::expected<T, Error> read(T t);",
            "[[nodiscard]] std::vector<tl::expected<int, Error>> all(int);"]

    def test_results_that_can_be_ignored_are_refused(self):
        for code in self.MISSING:
            with self.subTest(code=code):
                messages = found(drivers__a_hpp=code + "\n")
                self.assertEqual(len(messages), 1, messages)
                self.assertIn("without [[nodiscard]]", messages[0])

    def test_others_pass(self):
        for code in self.FINE:
            with self.subTest(code=code):
                self.assertEqual(found(drivers__a_hpp=code + "\n"), [])

    def test_one_forgotten_between_two_others_is_found(self):
        good = "[[nodiscard]] tl::expected<int, Error> a();\n"
        self.assertIn("drivers/a.hpp:2:", found(drivers__a_hpp=good + "tl::expected<int, Error> b();\n" + good)[0])

    def test_definitions_outside_headers_pass(self):
        self.assertEqual(found(drivers__a_cpp="tl::expected<int, Error> read() { return 1; }\n"), [])


class Words(unittest.TestCase):
    def test_left_over_notes_are_refused_in_any_text(self):
        for word in ("FIX" + "ME", "TO" + "DO", "X" * 3):
            for name in ("daemon__a_cpp", "docs__a_md", "demo__a_toml", "README"):
                with self.subTest(word=word, name=name):
                    self.assertIn(f":1: {word} is left over", found(**{name: f"# {word}: later\n"})[0])
        self.assertEqual(found(a_sh="mktemp a." + "X" * 6 + "\n", daemon__a_cpp="auto todo_list = 1;\n"), [])

    def test_paths_of_one_machine_are_refused(self):
        self.assertIn("one machine only", found(tests__a_cpp='auto p = "/' + 'tmp/wt/a";\n')[0])
        self.assertIn("one machine only", found(demo__a_sh="cd /" + "work/shared\n")[0])
        self.assertEqual(found(demo__a_sh='cd "$here/' + 'work" /tmp/work/a ${d}/work ./work\n'), [])


class Files(unittest.TestCase):
    def test_builds_are_not_read(self):
        bad = '#include "daemon/x.hpp"\n'
        self.assertEqual(found(build__alarms__a_cpp=bad, out__CMakeCache_txt="", out__alarms__a_cpp=bad), [])

    def test_a_linked_working_tree_is_read_without_its_link(self):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / ".git").write_text("gitdir: /" + "work/a\n", encoding="utf-8")
            self.assertEqual(list(tidy.problems(folder)), [])

    def test_sources_that_are_not_utf_8_are_refused(self):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "a.cpp").write_bytes(b"// \xff\n")
            self.assertEqual(len(list(tidy.problems(folder))), 1)


if __name__ == "__main__":
    unittest.main()
