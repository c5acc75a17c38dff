"""What a check finds: findings as columns, results as records."""
