package authority

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"fmt"
)

// Profile is the authority's certificate as a configuration profile
// (.mobileconfig) that iPadOS installs: one payload of the type
// com.apple.security.root, unsigned, which iPadOS says. Keys as in Apple's
// "Device Management" reference, CertificateRoot and TopLevel. The identifiers
// are made of the certificate: installing the same again replaces it.
func (a *Authority) Profile() []byte {
	var b bytes.Buffer
	b.WriteString(xml.Header)
	b.WriteString(`<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">` + "\n")
	b.WriteString("<plist version=\"1.0\">\n<dict>\n\t<key>PayloadContent</key>\n\t<array>\n\t\t<dict>\n")
	entry(&b, "\t\t\t", "PayloadCertificateFileName", "string", a.name+".cer")
	entry(&b, "\t\t\t", "PayloadContent", "data", base64.StdEncoding.EncodeToString(a.cert.Raw))
	a.common(&b, "\t\t\t", "com.apple.security.root", "certificate", "Lets this device trust the laptop "+a.name+" and nothing else.")
	b.WriteString("\t\t</dict>\n\t</array>\n")
	a.common(&b, "\t", "Configuration", "profile", "Lets this device trust the laptop "+a.name+" on the boat. Remove it when the project ends or the laptop is lost.")
	b.WriteString("</dict>\n</plist>\n")
	return b.Bytes()
}

func (a *Authority) common(b *bytes.Buffer, indent, kind, part, description string) {
	entry(b, indent, "PayloadDescription", "string", description)
	entry(b, indent, "PayloadDisplayName", "string", a.cert.Subject.CommonName)
	entry(b, indent, "PayloadIdentifier", "string", a.name+"."+part)
	entry(b, indent, "PayloadType", "string", kind)
	entry(b, indent, "PayloadUUID", "string", uuidOf(part, a.cert.Raw))
	entry(b, indent, "PayloadVersion", "integer", "1")
}

func entry(b *bytes.Buffer, indent, key, kind, value string) {
	fmt.Fprintf(b, "%s<key>%s</key>\n%s<%s>", indent, key, indent, kind)
	_ = xml.EscapeText(b, []byte(value)) // a buffer takes everything
	fmt.Fprintf(b, "</%s>\n", kind)
}

// uuidOf is a UUID of a part of the profile, made of the certificate (RFC
// 9562, version 8).
func uuidOf(part string, der []byte) string {
	sum := sha256.Sum256(append([]byte("brinefield "+part+" "), der...))
	sum[6] = sum[6]&0x0f | 0x80
	sum[8] = sum[8]&0x3f | 0x80
	return fmt.Sprintf("%X-%X-%X-%X-%X", sum[0:4], sum[4:6], sum[6:8], sum[8:10], sum[10:16])
}
