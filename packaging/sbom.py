#!/usr/bin/env python3
"""Writes the software bill of materials of the built program as SPDX 2.3 (JSON).

    sbom.py PROGRAM PACKAGE_LOCK VERSION OUT

Shared libraries are those that the loader finds, named after the Debian packages that own them, with their versions;
libraries that are compiled in, and the one of the page, are listed as contained. Times are SOURCE_DATE_EPOCH's.
"""
import hashlib
import json
import os
import re
import subprocess
import sys
from datetime import datetime, timezone
from pathlib import Path

# Header-only: the loader does not know of them. The Debian packages they come from.
COMPILED_IN = ["libboost1.74-dev", "libcli11-dev", "libexpected-dev", "nlohmann-json3-dev"]


def output_of(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def libraries_of(program):
    """Every file that the loader would map, but for the kernel's own."""
    for line in output_of("ldd", program).splitlines():
        found = re.search(r"(/\S+) \(0x", line)
        if found:
            yield found.group(1)


def owner_of(file):
    """The package that owns a library; usr-merge makes two names of one file."""
    for name in (file, os.path.realpath(file), re.sub(r"^/usr", "", os.path.realpath(file)), re.sub(r"^/usr", "", file)):
        asked = subprocess.run(["dpkg-query", "--search", name], capture_output=True, text=True, check=False)
        if asked.returncode == 0:
            return asked.stdout.split(":")[0]
    sys.exit(f"{file}: no package owns it; install the library from a package")


def debian_package(name):
    version, architecture = output_of("dpkg-query", "--show", "--showformat=${Version} ${Architecture}", name).split()
    return {
        "SPDXID": "SPDXRef-deb-" + re.sub(r"[^A-Za-z0-9.-]", "-", name),
        "name": name,
        "versionInfo": version,
        "supplier": "Organization: Debian",
        "downloadLocation": "NOASSERTION",
        "filesAnalyzed": False,
        "licenseConcluded": "NOASSERTION",
        "licenseDeclared": "NOASSERTION",
        "copyrightText": "NOASSERTION",
        "externalRefs": [{
            "referenceCategory": "PACKAGE-MANAGER",
            "referenceType": "purl",
            "referenceLocator": f"pkg:deb/debian/{name}@{version.replace('+', '%2B').replace('~', '~')}?arch={architecture}",
        }],
    }


def page_packages(lock):
    for path, package in json.loads(Path(lock).read_text(encoding="utf-8"))["packages"].items():
        name = path.removeprefix("node_modules/")
        if not path:
            continue
        yield {
            "SPDXID": "SPDXRef-npm-" + re.sub(r"[^A-Za-z0-9.-]", "-", name),
            "name": name,
            "versionInfo": package["version"],
            "downloadLocation": "NOASSERTION",
            "filesAnalyzed": False,
            "licenseConcluded": "NOASSERTION",
            "licenseDeclared": package.get("license", "NOASSERTION"),
            "copyrightText": "NOASSERTION",
            "externalRefs": [{
                "referenceCategory": "PACKAGE-MANAGER",
                "referenceType": "purl",
                "referenceLocator": f"pkg:npm/{name}@{package['version']}",
            }],
        }


def main(program, lock, version, out):
    at = datetime.fromtimestamp(int(os.environ.get("SOURCE_DATE_EPOCH", "0")), timezone.utc)
    own = {
        "SPDXID": "SPDXRef-oxherd",
        "name": "oxherd",
        "versionInfo": version,
        "downloadLocation": "NOASSERTION",
        "filesAnalyzed": False,
        "licenseConcluded": "Apache-2.0",
        "licenseDeclared": "Apache-2.0",
        "copyrightText": "NOASSERTION",
    }
    linked = [debian_package(name) for name in sorted({owner_of(file) for file in libraries_of(program)})]
    contained = [debian_package(name) for name in COMPILED_IN] + list(page_packages(lock))
    what = json.dumps([own, linked, contained], sort_keys=True)
    document = {
        "spdxVersion": "SPDX-2.3",
        "dataLicense": "CC0-1.0",
        "SPDXID": "SPDXRef-DOCUMENT",
        "name": f"oxherd-{version}",
        "documentNamespace": f"https://oxherd.example/spdx/oxherd-{version}-{hashlib.sha256(what.encode()).hexdigest()}",
        "creationInfo": {"created": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "creators": ["Tool: oxherd-packaging"]},
        "packages": [own, *linked, *contained],
        "relationships": [
            {"spdxElementId": "SPDXRef-DOCUMENT", "relationshipType": "DESCRIBES", "relatedSpdxElement": "SPDXRef-oxherd"},
            *({"spdxElementId": "SPDXRef-oxherd", "relationshipType": "DYNAMIC_LINK", "relatedSpdxElement": p["SPDXID"]}
              for p in linked),
            *({"spdxElementId": "SPDXRef-oxherd", "relationshipType": "CONTAINS", "relatedSpdxElement": p["SPDXID"]}
              for p in contained),
        ],
    }
    Path(out).write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    if len(sys.argv) != 5:
        sys.exit(__doc__)
    main(*sys.argv[1:])
