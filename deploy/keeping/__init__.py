"""
Backups: taken while others write, kept in one folder or two, put back whole.

``manifest`` says what a backup holds, ``copies`` takes one of either database and
puts it back, ``backups`` makes and keeps them, ``restoring`` brings one into an empty
place, ``thinning`` says which old ones go, ``scheduled`` when the next is due.
"""
