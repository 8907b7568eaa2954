// Package evidence owns what must stay as it was: the original files of a site
// and the bytes of its log.
//
// An original is named by the SHA-256 of its content (Ref) and can be put and
// read, never changed or deleted: the Store port has no call for either. What an
// interrupted intake kept and no record names can be taken back (Reclaimer). View
// copies that can be made again live behind a separate port, DerivedStore, so
// that nobody confuses the two. Dir and DerivedDir keep them in folders, Mem
// in memory for tests; every store passes the suite of package evidencetest.
//
// A file that comes piece by piece is a part (PartStore) until it is whole; then
// it becomes an original without being copied.
//
// A log entry (Entry) is encoded as canonical JSON (RFC 8785), so that its
// bytes, and with them its LeafHash (RFC 6962), can be worked out again from
// its values by anyone, with any program, years later. Fractions never appear
// as JSON numbers in an entry: decimals are strings, lengths whole millimetres.
//
// A bundle (BundleWriter, Bundle) is files with the list of their SHA-256 in a
// folder or a ZIP file: the form in which records leave and enter an instance.
//
// The package does not look inside the files it keeps and knows neither rules
// nor people: it must import nothing but the standard library, and of that not
// net/http, database/sql or image, and a library that locks files. It must work
// without a database, as an auditor checks a handed-over folder with nothing
// else at hand.
package evidence
