"""The pages of rules, cars and race nights."""
