"""One distillery's folder: settings, route, products and content, validated at start."""
