"""A PostgreSQL of a test's own: made in its folder, reached by a socket there, ended by process id. Its server refuses to
run as root, so it runs as the user that its package brings."""

import os
import pathlib
import pwd
import shutil
import signal
import subprocess

from plant import PATIENCE, Process, wait_for


def server_programs():
    """The folder with initdb and postgres, which Debian keeps out of the path."""
    found = sorted(pathlib.Path("/usr/lib/postgresql").glob("*/bin/postgres"))
    if not found:
        raise AssertionError("PostgreSQL is not installed: apt-get install postgresql (tests/run installs it)")
    return found[-1].parent


class Postgres:
    def __init__(self, folder):
        self.programs = server_programs()
        self.dir = pathlib.Path(folder)
        self.dir.mkdir(parents=True, exist_ok=True)
        for above in [self.dir, *self.dir.parents]:  # the server must be able to come here
            if above.stat().st_uid == os.getuid() and above != pathlib.Path("/"):
                above.chmod(above.stat().st_mode | 0o755)
        self.user = "postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name
        if os.getuid() == 0:
            shutil.chown(self.dir, self.user)
        self.server, self.starts = None, 0
        subprocess.run([*self.as_user(), self.programs / "initdb", "-D", self.dir / "data", "-A", "trust", "-U", "oxherd",
                        "-E", "UTF8", "--locale=C"], check=True, stdout=subprocess.DEVNULL, timeout=PATIENCE)

    def as_user(self):
        return ["setpriv", f"--reuid={self.user}", f"--regid={self.user}", "--init-groups"] if os.getuid() == 0 else []

    def start(self, *options):
        wait_for("the database", lambda: self.is_up(options))
        if self.query("SELECT 1 FROM pg_database WHERE datname = 'oxherd'", "postgres") == []:
            self.query("CREATE DATABASE oxherd", "postgres")

    def is_up(self, options):
        """Starts it once more where it has ended: after a kill it refuses to start while a child of before still ends."""
        if not self.server or self.server.child.poll() is not None:
            self.starts += 1
            self.server = Process("postgres", [*self.as_user(), self.programs / "postgres", "-D", self.dir / "data", "-k",
                                               self.dir, "-c", "listen_addresses=", *options],
                                  self.dir.parent / f"postgres-{self.starts}.log")
        return self.query("SELECT 1", "postgres", check=False) == [["1"]]

    def query(self, sql, database="oxherd", check=True):
        """The rows, each a list of texts."""
        done = subprocess.run([self.programs / "psql", "-X", "-A", "-t", "-F", "\t", "-h", self.dir, "-U", "oxherd", "-d",
                               database, "-c", sql], capture_output=True, text=True, timeout=PATIENCE)
        if done.returncode != 0:
            if check:
                raise AssertionError(done.stderr)
            return []
        return [line.split("\t") for line in done.stdout.splitlines()]

    def number(self, sql):
        return int(self.query(sql)[0][0])

    def processes(self):
        """The server and its children: killing the first alone would leave the others at work for a moment."""
        children = pathlib.Path(f"/proc/{self.server.child.pid}/task/{self.server.child.pid}/children").read_text()
        return [self.server.child.pid, *map(int, children.split())]

    def kill(self):
        for pid in self.processes():
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                pass
        self.server.child.wait()
        self.server.file.close()

    def end(self):
        if self.server and self.server.child.poll() is None:
            self.server.kill(signal.SIGINT)  # ends at once and in order
            self.server.child.wait(PATIENCE)
            self.server.file.close()
