package register

// recordReadme explains a record to a person who has nothing but its files.
func recordReadme(about recordAbout) string {
	head := "The whole quality record of one site of external wall insulation\n" +
		"================================================================\n\n" +
		"Site: " + about.Name + "\nId:   " + about.Site + "\n"
	if about.Scope == scopeInstance {
		head = "A backup of a whole Storeyrod instance\n" +
			"======================================\n\n" +
			"Keep it as you would keep a key: it holds the hashes of passwords and of tokens.\n" +
			"Sessions and sign-in links are left out; everybody signs in again. A token that was\n" +
			"revoked after the backup is valid again once it is restored: revoke it once more.\n"
	}
	return head + `
Everything here can be read without the program that wrote it. To check that no
byte was changed and nothing is missing:

    sha256sum -c SHA256SUMS

originals/      the photos as received, each named by the SHA-256 of its bytes
photos.txt      which photo is which file, and what it was called when it was sent
geometry.geojson  outlines of the buildings (RFC 7946) and which edge is which elevation
schedules/      the tolerance schedules of the project, as they were stored
log.jsonl       what happened, one entry a line, the oldest first. The bytes of a
                line are the entry in canonical JSON (RFC 8785); seq counts from 1
                without gaps. Nothing in it is ever changed.
tables/         the state that the log led to, one row a line. Instants are
                microseconds since 1970 in UTC, lengths millimetres, 0 and 1 no and yes;
                columns that hold lists hold them as JSON text. Offsets of surveys
                are millimetres, the top row of the wall first, a line for each row.
people.jsonl    who had a role on the site: id, login, name. No passwords.
record.json     what this is; "missing" names originals that were lost before
sites/ID/       in a backup: log.jsonl, photos.txt, geometry and schedules of each site

A verdict in it is arithmetic on what was entered, with the limit and its source
beside it. It is no certificate. A photo in which somebody can be recognised is
personal data.

"storeyrod import folder" takes the record of a site into another instance, and
"storeyrod restore" a backup into an empty one. The program reads record.json,
people.jsonl, tables, logs and originals; the rest is for people. It refuses a
record whose bytes were changed or whose log does not lead to its rows.
`
}
