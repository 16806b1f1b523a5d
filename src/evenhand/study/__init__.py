"""study.toml to a study, and back."""
