// Package printing draws the figures of a dossier and sets its texts: SVG, PDF
// and PNG, HTML, Markdown and DOCX. The same values give the same bytes, but for a
// PDF that a browser prints.
package printing
