#!/usr/bin/env python3
"""What real shells offer with the scripts of `oxherd completion`.

    shells.py OXHERD
"""
import os
import pty
import re
import select
import subprocess
import sys
import tempfile
import time
import unittest

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from fake_daemon import FakeDaemon, room, site  # noqa: E402

OXHERD = ""
DEADLINE_S = 30.0


class Offers:
    """What each shell must do alike; `offered` gives the words offered for a line, its last word being typed."""

    def setUp(self):
        self.daemon = FakeDaemon(site(room("cryo-annexe", alarms=["low-oxygen", "not-monitored"]),
                                      room("bay-3", alarms=["high-co2"]), outputs=["site-horn"]))
        self.addCleanup(self.daemon.close)
        folder = tempfile.TemporaryDirectory(prefix="oxherd-shells-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        for name in ("larkfield.toml", "two words.toml"):
            open(os.path.join(self.folder, name), "w", encoding="utf-8").close()
        os.mkdir(os.path.join(self.folder, "state"))
        os.symlink(OXHERD, os.path.join(self.folder, "oxherd"))
        self.state = f"--state-dir {self.daemon.state_dir} "

    def script(self, shell):
        return subprocess.run([OXHERD, "completion", shell], stdout=subprocess.PIPE, text=True, check=True).stdout

    def environment(self):
        return os.environ | {"PATH": f"{self.folder}:{os.environ['PATH']}", "HOME": self.folder, "TERM": "xterm"}

    def test_commands(self):
        self.assertEqual(self.offered("sta"), {"status"})
        self.assertLessEqual({"acknowledge", "alarms", "alarm-report"}, self.offered("a"))

    def test_options_of_the_command_alone(self):
        self.assertEqual(self.offered("status --w"), {"--watch"})
        self.assertEqual(self.offered("check --w"), set())
        self.assertLessEqual({"--room", "--help"}, self.offered("alarms --"))

    def test_words_of_an_option(self):
        self.assertEqual(self.offered("run --log-level w"), {"warning"})
        self.assertEqual(self.offered("regime --set s"), {"sealed-low-oxygen"})

    def test_words_that_stand_by_themselves(self):
        self.assertEqual(self.offered("history r"), {"readings"})
        self.assertEqual(self.offered("completion f"), {"fish"})

    def test_names_that_the_daemon_knows(self):
        self.assertEqual(self.offered(f"alarms {self.state}--room c"), {"cryo-annexe"})
        self.assertEqual(self.offered(f"acknowledge {self.state}cryo-annexe/n"), {"cryo-annexe/not-monitored"})
        self.assertEqual(self.offered(f"calibrate {self.state}b"), {"bay-3/cell-a"})
        self.assertEqual(self.offered(f"prove {self.state}s"), {"site-horn"})

    def test_names_after_an_equals_sign(self):
        got = self.offered(f"alarms {self.state}--room=c")
        self.assertEqual({word.removeprefix("--room=") for word in got}, {"cryo-annexe"})

    def test_nothing_and_no_word_of_it_without_a_daemon(self):
        self.assertEqual(self.offered(f"alarms --state-dir {self.folder}/state --room c"), set())

    def test_files_and_folders(self):
        self.assertEqual(self.offered("check --config l"), {"larkfield.toml"})
        self.assertEqual({word.rstrip("/") for word in self.offered("status --state-dir s")}, {"state"})


class Bash(Offers, unittest.TestCase):
    def offered(self, line):
        words = re.split(r" |(=)", line)
        words = ["oxherd"] + [word for word in words if word is not None]
        program = self.script("bash") + '\nCOMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _oxherd; printf "%s\\n" "${COMPREPLY[@]}"'
        done = subprocess.run(["bash", "--norc", "-c", program, "bash", *words], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True, cwd=self.folder, env=self.environment(), check=False)
        self.assertEqual(done.stderr, "")
        return set(done.stdout.split("\n")) - {""}

    def test_is_registered_for_the_program(self):
        done = subprocess.run(["bash", "--norc", "-c", self.script("bash") + "\ncomplete -p oxherd"], stdout=subprocess.PIPE,
                              text=True, check=True)
        self.assertEqual(done.stdout, "complete -F _oxherd oxherd\n")

    def test_what_comes_in_is_never_run(self):
        trap = os.path.join(self.folder, "run")
        for word in (f"$(touch {trap})", f"`touch {trap}`"):
            self.offered("acknowledge " + word.replace(" ", "\t"))
            self.offered("$(touch\t" + trap + ") --")
        self.assertFalse(os.path.exists(trap))

    def test_in_a_real_terminal(self):
        terminal = Typing(["bash", "--norc", "-i"], self.folder, self.environment() | {"PS1": "$ "})
        self.addCleanup(terminal.end)
        with open(os.path.join(self.folder, "oxherd.bash"), "w", encoding="utf-8") as script:
            script.write(self.script("bash"))
        terminal.write("source ./oxherd.bash; echo rea''dy\n")
        terminal.until("ready")
        terminal.write("oxherd status --wat\t")
        terminal.until("oxherd status --watch ")
        terminal.write("\x15oxherd check --config two\t")
        terminal.until("two\\ words.toml")


class Fish(Offers, unittest.TestCase):
    def offered(self, line):
        program = self.script("fish") + "\ncomplete -C $argv[1]"
        done = subprocess.run(["fish", "--no-config", "-c", program, "oxherd " + line], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True, cwd=self.folder, env=self.environment(), check=False)
        self.assertEqual(done.stderr, "")
        return {one.split("\t")[0] for one in done.stdout.splitlines()}


class Typing:
    """A shell in a terminal, with what it has written so far."""

    def __init__(self, words, folder, environment):
        self.pid, self.terminal = pty.fork()
        if self.pid == 0:
            os.chdir(folder)
            os.execvpe(words[0], words, environment)
        self.seen = ""

    def write(self, text):
        self.seen = ""
        os.write(self.terminal, text.encode())

    def until(self, text):
        end = time.monotonic() + DEADLINE_S
        while text not in self.seen:
            ready, _, _ = select.select([self.terminal], [], [], max(0.0, end - time.monotonic()))
            assert ready, f"never seen: {text!r} in {self.seen!r}"
            self.seen += os.read(self.terminal, 65536).decode(errors="replace")

    def end(self):
        os.kill(self.pid, 9)
        os.waitpid(self.pid, 0)
        os.close(self.terminal)


class Zsh(Offers, unittest.TestCase):
    """The words that the completion system is given, caught at its own built-in."""
    CATCH = r"""
autoload -Uz compinit && compinit -D -u
fpath=(. $fpath); autoload -Uz _oxherd; compdef _oxherd oxherd
zstyle ':completion:*' insert-tab false
compadd() {  # beside the offer itself, what it would insert
  local -a caught; builtin compadd -O caught "$@"
  (( $#caught )) && print -rl -- "${(@)caught}" >> offered
  builtin compadd "$@"
}
finish() { zle list-choices; zle -M offered"-"all; }
zle -N finish; bindkey '^T' finish
PS1='$ '; print rea''dy
"""

    def offered(self, line):
        with open(os.path.join(self.folder, "_oxherd"), "w", encoding="utf-8") as script:
            script.write(self.script("zsh"))
        with open(os.path.join(self.folder, "catch.zsh"), "w", encoding="utf-8") as script:
            script.write(self.CATCH)
        caught = os.path.join(self.folder, "offered")
        open(caught, "w", encoding="utf-8").close()
        terminal = Typing(["zsh", "-f", "-i"], self.folder, self.environment())
        try:
            terminal.write("source ./catch.zsh\n")
            terminal.until("ready")
            terminal.write("oxherd " + line + "\x14")
            terminal.until("offered-all")
            with open(caught, encoding="utf-8") as file:
                words = file.read()
        finally:
            terminal.end()
        return set(words.split("\n")) - {""}


if __name__ == "__main__":
    OXHERD = os.path.abspath(sys.argv.pop(1))
    unittest.main()
