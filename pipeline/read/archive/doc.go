// Package archive lists what packed files hold: .gz (RFC 1952), .zst (RFC 8878) and .zip.
//
// Names. A zip's member is named behind the archive as a.zip/b.csv, with forward slashes; what would lead out of the archive (a
// root, a drive, "..") is taken off, and of two members with one name the second ends in ~2. A .gz or .zst packs one file that has no
// name of its own: it keeps the name it was given under.
//
// What is left out. Folders, links and the hidden companions that archivers add are left out in silence. A member that is
// encrypted or packed in an unknown way is listed, and says so when it is opened.
//
// Bounds, against files made to fill a disk. A member may unpack to 64 MiB, or to 200 times what is packed where that is more, and to
// 16 GiB at most; a zip's members together may not claim more than that either, and it may hold 10,000 of them. Beyond that the archive
// or the member is refused. Checksums are verified when a member was read to its end. A failure leaves nothing behind.
//
// Cuts. A .gz or .zst that breaks off is an error when it is read to the cut. Source.Mend gives, of a text, the whole lines before it,
// with a finding of severity doubt. The checksum stands at the end and is lost with it, so what could be damage and not a cut is refused: another error
// than an end that comes too soon, and in a .gz last bytes that state about the size that was unpacked, as those of a whole file do. What
// the last 64 packed bytes say is left out, for a bit flipped there hides the end of a whole stream. A cut .zip has lost its directory and is refused.
//
//	members, findings, err := archive.Zip{}.Members(ctx, src)
package archive
