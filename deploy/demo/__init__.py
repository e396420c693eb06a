"""The demo club: invented people, parts, cars and race nights, played at a start."""
