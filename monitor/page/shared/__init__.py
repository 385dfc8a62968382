"""The parts that all addresses of the page share: context, templates, stylesheet and scripts."""
