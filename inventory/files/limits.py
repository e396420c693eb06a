"""What a file may weigh and hold; checked before it is read and while it is."""

MIB = 1024 * 1024

BYTES = 20 * MIB
ROWS = 200_000
COLUMNS = 50
CELLS = 2_000_000
#: All that is written in the cells together.
CHARACTERS = 40_000_000
#: Longer ones are cut, and marked; no tag, word or number is near it.
CELL_CHARACTERS = 200
MARKED_CELLS = 10_000

MEMBERS = 100
UNPACKED_BYTES = 200 * MIB
#: Unpacked by packed, of a member that is more than a mebibyte.
RATIO = 100

CHILD_MEMORY_BYTES = 512 * MIB
CHILD_CPU_S = 30
CHILD_WALL_S = 120
