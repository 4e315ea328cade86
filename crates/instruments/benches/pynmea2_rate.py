"""How many sentences a second pynmea2 parses on one core, over the same recorded log as benches/decode.rs.

Needs: pip install pynmea2==1.19.0. Prints one number; the ratio is that of the Rust bench to it.
"""

import pathlib
import time

import pynmea2

log = pathlib.Path(__file__).parent.parent / "tests/data/underway/underway.nmea"
lines = log.read_text(encoding="latin-1").splitlines()
begun = time.perf_counter()
for line in lines:
    try:
        pynmea2.parse(line, check=True)
    except pynmea2.ParseError:
        pass
took_s = time.perf_counter() - begun
print(f"{len(lines)} sentences, {len(lines) / took_s:.0f} a second")
