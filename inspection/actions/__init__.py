"""Every write to rules, cars, nights and sheets: one named action each."""
