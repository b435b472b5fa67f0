#!/usr/bin/env python3
"""The manual pages, as the programs that show them read them.

    pages.py OXHERD SOURCE_DIR
"""
import os
import re
import subprocess
import sys
import unittest

OXHERD = SOURCE_DIR = ""


def run(words, text):
    done = subprocess.run(words, input=text, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def plain(shown):
    """What `groff` shows, without its way of printing bold and underlined."""
    return re.sub(r"\s+", " ", re.sub(r".\x08", "", re.sub(r"\x1b\[[0-9;]*m", "", shown)))


class Pages(unittest.TestCase):
    def pages(self):
        for name in ("oxherd.toml.5", "oxherd-collect.toml.5"):
            with open(os.path.join(SOURCE_DIR, "man", name), encoding="utf-8") as page:
                yield name, page.read()
        done = subprocess.run([OXHERD, "manual"], stdout=subprocess.PIPE, text=True, check=True)
        yield "oxherd.1", done.stdout

    def test_are_formatted_without_a_warning(self):
        for name, page in self.pages():
            with self.subTest(name):
                self.assertTrue(page.isascii())
                code, shown, said = run(["groff", "-ww", "-man", "-Tutf8"], page)
                self.assertEqual((code, said), (0, ""))
                self.assertIn("NAME", plain(shown))

    def test_pass_the_other_formatter_too(self):
        for name, page in self.pages():
            with self.subTest(name):
                self.assertEqual(run(["mandoc", "-T", "lint", "-W", "warning"], page)[:2], (0, ""))

    def test_carry_the_whole_caution(self):
        for name, page in self.pages():
            with self.subTest(name):
                shown = run(["mandoc", "-T", "utf8", "-O", "width=500"], page)[1]
                self.assertIn("No reading from Oxherd, and no silence, means that a room is safe to enter.", plain(shown))
                self.assertIn("It never replaces them.", plain(shown))

    def test_show_commands_that_can_be_copied(self):
        page = dict(self.pages())["oxherd.1"]
        shown = run(["mandoc", "-T", "utf8", "-O", "width=500"], page)[1]
        help_text = subprocess.run([OXHERD, "acknowledge", "--help"], stdout=subprocess.PIPE, text=True, check=True).stdout
        example = help_text[help_text.index("Examples:\n"):].splitlines()[1].strip()
        self.assertIn(example, plain(shown))

    def test_name_every_command_option_and_exit_code(self):
        page = plain(run(["mandoc", "-T", "utf8", "-O", "width=500"], dict(self.pages())["oxherd.1"])[1])
        general = subprocess.run([OXHERD, "--help"], stdout=subprocess.PIPE, text=True, check=True).stdout
        commands = re.findall(r"^  ([a-z-]+)  +\S", general[general.index("Commands:"):general.index("Examples:")], re.M)
        self.assertGreater(len(commands), 20)
        for command in commands:
            self.assertIn(f" oxherd {command} ", page)
            text = subprocess.run([OXHERD, command, "--help"], stdout=subprocess.PIPE, text=True, check=True).stdout
            options = re.findall(r"^  (--?[a-zN-]+(?: \S+)?)  +(\S.*)$", text[text.index("Options:"):text.index("Examples:")], re.M)
            for option, help_text in options:
                if option != "--help":
                    self.assertIn(f"{option} {re.sub(' +', ' ', help_text)}", page, command)
        for code, meaning in re.findall(r"^  (\d)  (.*)$", general[general.index("Exit codes:"):], re.M):
            self.assertIn(f" {code} {meaning} ", page)


if __name__ == "__main__":
    OXHERD, SOURCE_DIR = sys.argv.pop(1), sys.argv.pop(1)
    unittest.main()
