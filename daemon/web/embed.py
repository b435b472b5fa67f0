#!/usr/bin/env python3
"""Packs the files of the page into C++: embed.py OUTPUT ROOT FILE... Files below ROOT are named by their path from there,
others by their own name. The bytes are compressed; the same files give the same output, so that a build can be
repeated."""
import gzip
import hashlib
import pathlib
import sys

TYPES = {".html": "text/html; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml",
         ".js": "text/javascript; charset=utf-8", ".json": "application/json", ".webmanifest": "application/manifest+json"}


def literal(data):
    """Octal escapes of three digits: unlike hexadecimal ones they end by themselves."""
    lines = []
    for start in range(0, len(data), 40):
        lines.append('    "' + "".join(f"\\{byte:03o}" for byte in data[start:start + 40]) + '"')
    return "\n".join(lines)


def main():
    output, root = map(pathlib.Path, sys.argv[1:3])
    files = {str(f.relative_to(root)) if f.is_relative_to(root) else f.name: f for f in map(pathlib.Path, sys.argv[3:])}
    arrays, rows = [], []
    for n, (name, file) in enumerate(sorted(files.items())):
        plain = file.read_bytes()
        packed = gzip.compress(plain, 9, mtime=0)
        arrays.append(f"constexpr char file_{n}[] =\n{literal(packed)};\n")
        tag = hashlib.sha256(plain).hexdigest()[:32]
        rows.append(f'    {{"{name}", "{TYPES[file.suffix]}", {{file_{n}, {len(packed)}}}, "{tag}"}},')
    output.write_text('#include "daemon/http/assets.hpp"\n\nnamespace oxherd::daemon::http {\nnamespace {\n\n'
                      + "\n".join(arrays) + "\nconstexpr Asset embedded[] = {\n" + "\n".join(rows)
                      + "\n};\n\n} // namespace\n\nstd::span<const Asset> assets() { return embedded; }\n\n"
                      "} // namespace oxherd::daemon::http\n")


if __name__ == "__main__":
    main()
