"""The demo club: invented people, cars and race nights, made by the real actions."""
