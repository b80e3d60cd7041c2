#!/usr/bin/python3
"""Reads candump logs with python-can and decodes their frames with canmatrix (Debian packages python3-can 4.1 and
python3-canmatrix 0.9.5), which are independent of this project. Usage: can_log.py FILE.log [FILE.dbc...]

Prints CSV: frame,TIME,BUS,ID,EXTENDED,REMOTE,FD,DATA for every frame, or with databases
signal,TIME,ID,EXTENDED,NAME,RAW,VALUE for every signal of the frames that they name: by the exact id, else, with 29 bits, by the
J1939 parameter group."""
import csv
import logging
import sys

import can.io

logging.disable(logging.CRITICAL)
out = csv.writer(sys.stdout, lineterminator="\n")


def parameter_group(identifier):
    group = identifier >> 8 & 0x3FFFF
    return group & 0x3FF00 if group >> 8 & 0xFF < 240 else group


exact, groups = {}, {}
if len(sys.argv) > 2:
    import canmatrix.formats

    for path in sys.argv[2:]:
        for frame in list(canmatrix.formats.loadp(path).values())[0].frames:
            key = (frame.arbitration_id.id, bool(frame.arbitration_id.extended))
            exact.setdefault(key, frame)
            if key[1]:
                groups.setdefault(parameter_group(key[0]), frame)

for message in can.io.CanutilsLogReader(sys.argv[1]):
    at = "%.6f" % message.timestamp
    if len(sys.argv) == 2:
        out.writerow(["frame", at, message.channel, "%X" % message.arbitration_id, int(message.is_extended_id), int(message.is_remote_frame), int(message.is_fd), bytes(message.data).hex().upper()])
        continue
    key = (message.arbitration_id, bool(message.is_extended_id))
    frame = exact.get(key) or (groups.get(parameter_group(key[0])) if key[1] else None)
    if frame is None or len(message.data) < frame.size:
        continue
    for name, signal in sorted(frame.decode(bytes(message.data)).items()):
        out.writerow(["signal", at, "%X" % key[0], int(key[1]), name, signal.raw_value, repr(float(signal.phys_value))])
