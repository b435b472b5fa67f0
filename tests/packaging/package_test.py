"""The Debian package that cpack makes of the build at hand: what is in it, what it asks for, and that it is the same
when it is made again."""

import hashlib
import json
import os
import re
import subprocess
import tempfile
import unittest
from pathlib import Path

BUILD = Path(os.environ["OXHERD_BUILD"])
SOURCE = Path(__file__).resolve().parents[2]
AT = "1795694400"  # 2026-11-26T12:00:00Z


def run(*command, **more):
    done = subprocess.run(command, capture_output=True, text=True, check=False, **more)
    if done.returncode != 0:
        raise AssertionError(f"{' '.join(map(str, command))}: exit {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def make(folder):
    """One package in a folder of its own; returns its path."""
    run("cpack", "--config", BUILD / "CPackConfig.cmake", "-B", folder,
        env={**os.environ, "SOURCE_DATE_EPOCH": AT}, umask=0o022)
    packages = list(Path(folder).glob("*.deb"))
    assert len(packages) == 1, packages
    return packages[0]


class Package(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory(prefix="oxherd-package-")
        cls.addClassCleanup(cls.folder.cleanup)
        run("cmake", "--build", BUILD, "--target", "oxherd_package_files",
            env={**os.environ, "SOURCE_DATE_EPOCH": AT})
        cls.package = make(Path(cls.folder.name) / "first")
        cls.root = Path(cls.folder.name) / "root"
        run("dpkg-deb", "--extract", cls.package, cls.root)
        cls.listed = run("dpkg-deb", "--contents", cls.package).splitlines()

    def field(self, name):
        return run("dpkg-deb", "--field", self.package, name).strip()

    def test_everything_a_person_needs_is_in_it(self):
        for path in ("bin/oxherd", "lib/systemd/system/oxherd.service", "lib/systemd/system/oxherd-collect.service",
                     "share/man/man5/oxherd-collect.toml.5.gz", "lib/sysusers.d/oxherd.conf",
                     "lib/tmpfiles.d/oxherd.conf", "share/man/man1/oxherd.1.gz", "share/man/man5/oxherd.toml.5.gz",
                     "share/bash-completion/completions/oxherd", "share/zsh/site-functions/_oxherd",
                     "share/fish/vendor_completions.d/oxherd.fish", "share/doc/oxherd/examples/larkfield.toml",
                     "share/doc/oxherd/copyright", "share/doc/oxherd/changelog.gz", "share/doc/oxherd/licences/uplot",
                     "share/doc/oxherd/oxherd.spdx.json"):
            with self.subTest(path):
                self.assertGreater((self.root / "usr" / path).stat().st_size, 0)
        profiles = {p.name for p in (SOURCE / "config" / "profiles").glob("*.toml")}
        self.assertEqual({p.name for p in (self.root / "usr/share/oxherd/profiles").iterdir()}, profiles)

    def test_nothing_is_writable_for_others_and_all_belongs_to_root(self):
        for line in self.listed:
            mode, owner = line.split()[:2]
            self.assertEqual(owner, "root/root", line)
            self.assertNotIn("w", mode[4:], line)

    def test_the_program_in_it_finds_its_profiles_and_takes_the_example(self):
        program = self.root / "usr/bin/oxherd"
        self.assertIn(self.field("Version"), run(program, "--version"))
        env = {k: v for k, v in os.environ.items() if k != "OXHERD_PROFILES"}
        said = run(program, "check", "--config", self.root / "usr/share/doc/oxherd/examples/larkfield.toml", env=env)
        self.assertIn("cryo-annexe", said)

    def test_every_library_the_program_loads_comes_from_a_package_it_depends_on(self):
        needed = re.findall(r"NEEDED\s+(\S+)", run("objdump", "--private-headers", self.root / "usr/bin/oxherd"))
        self.assertIn("libmodbus.so.5", needed)
        depends = {re.split(r"[ (|]", d.strip())[0] for d in self.field("Depends").split(",")}
        found = run("ldd", self.root / "usr/bin/oxherd")
        for library in needed:
            if library.startswith("ld-linux"):
                continue
            with self.subTest(library):
                path = os.path.realpath(re.search(rf"{re.escape(library)} => (\S+)", found).group(1))
                owners = {line.split(":")[0] for name in (path, path.removeprefix("/usr"))
                          for line in subprocess.run(["dpkg-query", "--search", name], capture_output=True, text=True,
                                                     check=False).stdout.splitlines()}
                provided = {p.split("=")[0].strip().split(" ")[0] for owner in owners for p in
                            (owner + "," + run("dpkg-query", "--show", "--showformat=${Provides}", owner)).split(",")}
                self.assertTrue(provided & depends, f"{owners} not among {sorted(depends)}")

    def test_a_removal_keeps_records_and_only_a_purge_deletes_them(self):
        scripts = Path(self.folder.name) / "control"
        run("dpkg-deb", "--control", self.package, scripts)
        for name in ("postinst", "prerm", "postrm"):
            self.assertTrue(os.access(scripts / name, os.X_OK))
            run("sh", "-n", scripts / name)
        lines = (scripts / "postrm").read_text().split('if [ "$1" = purge ]')
        self.assertNotIn("rm -rf", lines[0])
        self.assertIn("/var/lib/oxherd", lines[1])
        for name in ("postinst", "prerm"):
            self.assertNotIn("/var/lib/oxherd", (scripts / name).read_text())

    def test_the_bill_of_materials_names_what_the_program_is_made_of(self):
        bill = json.loads((self.root / "usr/share/doc/oxherd/oxherd.spdx.json").read_text(encoding="utf-8"))
        self.assertEqual((bill["spdxVersion"], bill["dataLicense"], bill["SPDXID"]),
                         ("SPDX-2.3", "CC0-1.0", "SPDXRef-DOCUMENT"))
        self.assertEqual(bill["creationInfo"]["created"], "2026-11-26T12:00:00Z")
        packages = {p["name"]: p for p in bill["packages"]}
        for name in ("oxherd", "libmodbus5", "libsqlite3-0", "libpaho-mqtt1.3", "libssl3", "libsodium23", "libprotobuf-lite32",
                     "nlohmann-json3-dev", "uplot"):
            self.assertIn(name, packages)
        self.assertEqual(packages["libsqlite3-0"]["versionInfo"],
                         run("dpkg-query", "--show", "--showformat=${Version}", "libsqlite3-0"))
        # SPDX 2.3, clauses 3.2 and 11.1: identifiers are unique, and every relation joins two that there are.
        known = [p["SPDXID"] for p in bill["packages"]]
        self.assertEqual(len(known), len(set(known)))
        for identifier in known:
            self.assertRegex(identifier, r"^SPDXRef-[A-Za-z0-9.-]+$")
        for relation in bill["relationships"]:
            self.assertIn(relation["spdxElementId"], [*known, "SPDXRef-DOCUMENT"])
            self.assertIn(relation["relatedSpdxElement"], known)

    def test_made_again_it_is_the_same_byte_for_byte(self):
        again = make(Path(self.folder.name) / "second")
        self.assertEqual(*(hashlib.sha256(p.read_bytes()).hexdigest() for p in (self.package, again)))

    def test_the_unit_is_rated_ok_without_being_installed(self):
        unit = self.root / "usr/lib/systemd/system/oxherd.service"
        # Overall exposure times ten; the threshold makes the exit code.
        run("systemd-analyze", "security", "--offline=true", "--no-pager", "--threshold=20", unit)


if __name__ == "__main__":
    unittest.main()
