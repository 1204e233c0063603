"""A board behind a pseudo-terminal, as a program: ``python pty_board.py FOLDER RATE [IDENTITY]``; ends when its input is
closed.

Like a USB bridge it keeps some kilobytes for a reader that is late, and drops what does not fit.
"""

import sys
from pathlib import Path

from fake_board import FakeBoard, PtyBoard

if __name__ == "__main__":
    number = int(sys.argv[3]) if len(sys.argv) > 3 else None
    with PtyBoard(FakeBoard(rate=int(sys.argv[2]), identity=number), Path(sys.argv[1])) as board:
        print(board.url, flush=True)
        sys.stdin.read()
