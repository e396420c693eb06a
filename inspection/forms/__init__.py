"""Forms of the pages of rules, cars and race nights."""
