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
//	members, findings, err := archive.Zip{}.Members(ctx, src)
package archive
