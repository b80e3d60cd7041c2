#!/usr/bin/env python3
"""Makes can_signals.csv: signals of CAN databases decoded by canmatrix (Debian package python3-canmatrix 0.9.5), an independent
reader of the format. Usage: python3 can_signals.py FILE.dbc... > can_signals.csv. The bytes are random with a fixed seed."""
import csv, os, random, sys
import canmatrix.formats

rng = random.Random(1939)
out = csv.writer(sys.stdout, lineterminator="\n")
out.writerow(["file", "id", "extended", "data", "signal", "value", "unit"])
for path in sys.argv[1:]:
    matrix = list(canmatrix.formats.loadp(path).values())[0]
    for frame in sorted(matrix.frames, key=lambda f: (f.arbitration_id.extended, f.arbitration_id.id)):
        if frame.size == 0 or not frame.signals or frame.name == "VECTOR__INDEPENDENT_SIG_MSG":
            continue
        for _ in range(12):
            data = bytes(rng.randrange(256) for _ in range(frame.size))
            if frame.is_multiplexed and not frame.is_complex_multiplexed:
                data = bytes([data[0] & 0xF0 | rng.randrange(4)]) + data[1:]
            try:
                decoded = frame.decode(data)
            except Exception as e:  # A selector that reads what no signal answers to.
                continue
            for name in sorted(decoded):
                value = decoded[name].phys_value
                out.writerow([os.path.basename(path), "%X" % frame.arbitration_id.id, int(frame.arbitration_id.extended), data.hex().upper(), name,
                              repr(float(value)), frame.signal_by_name(name).unit or ""])
