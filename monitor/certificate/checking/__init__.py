"""The check of a document: taken apart, worked out anew, and compared."""

from monitor.certificate.checking.verification import verify
