"""
A club of many years beside the demo club: what grows with its history.

Real sheets, made by the actions, are copied night by night with people, cars, parts,
times and numbers of their own; every night's seals form a chain that holds.
"""
