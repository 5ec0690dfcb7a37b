"""One patch of the real sky as a setting records it and as a viewer sees it."""
