"""What was published, frozen, and what became of it since: alike for a session and a campaign."""
