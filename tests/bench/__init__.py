"""The ear's benchmark: lines with exact truth are rendered, heard by the ears and by peers, and scored."""

import sys
from pathlib import Path

FIXTURES = Path(__file__).parents[2] / "recordings-fixtures"
# guitar.py plays recorded single notes and is shared with the makers of the fixtures; last, for names may be alike
sys.path.append(str(FIXTURES))
