"""Sheets: what is asked, what was read, what each rule says, the seal."""
