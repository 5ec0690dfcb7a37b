"""The light over the field: words, data and the chart."""
