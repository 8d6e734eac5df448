package webpush

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"
)

// tokenLife is well below the day that RFC 8292, section 2, allows, so that a
// clock some hours fast still makes tokens that are taken.
const tokenLife = 12 * time.Hour

const pemType = "PRIVATE KEY"

// Identity is who sends: browsers subscribe to its public key, and push
// services know it by its signature (RFC 8292).
type Identity struct {
	key     *ecdsa.PrivateKey
	public  string
	contact string
}

// GenerateKey makes a key for an identity, as PEM. It is kept with mode 0600:
// with another one every browser has to subscribe anew.
func GenerateKey() ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make a push key: %w", err)
	}
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("make a push key: %w", err)
	}
	return pem.EncodeToMemory(&pem.Block{Type: pemType, Bytes: der}), nil
}

// NewIdentity takes a key from GenerateKey and an address at which the push
// service may reach the sender: mailto: or https:.
func NewIdentity(key []byte, contact string) (*Identity, error) {
	if !strings.HasPrefix(contact, "mailto:") && !strings.HasPrefix(contact, "https://") {
		return nil, errors.New("push: the contact is to begin with mailto: or https://")
	}
	block, _ := pem.Decode(key)
	if block == nil || block.Type != pemType {
		return nil, errors.New("push: the key file is not a PEM private key: remove it, and a new one is made")
	}
	parsed, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("push: read the key: %w", err)
	}
	private, ok := parsed.(*ecdsa.PrivateKey)
	if !ok || private.Curve != elliptic.P256() {
		return nil, errors.New("push: the key is not one of the curve P-256")
	}
	point, err := private.PublicKey.Bytes()
	if err != nil {
		return nil, fmt.Errorf("push: read the key: %w", err)
	}
	return &Identity{key: private, public: encode(point), contact: contact}, nil
}

// PublicKey is what a page hands to the browser as applicationServerKey, in
// unpadded base64url.
func (i *Identity) PublicKey() string { return i.public }

// authorise returns the Authorization header for one post.
func (i *Identity) authorise(endpoint *url.URL, now time.Time) (string, error) {
	claims, err := json.Marshal(map[string]any{
		"aud": endpoint.Scheme + "://" + endpoint.Host,
		"exp": now.Add(tokenLife).Unix(),
		"sub": i.contact,
	})
	if err != nil {
		return "", fmt.Errorf("sign the post: %w", err)
	}
	token := encode([]byte(`{"typ":"JWT","alg":"ES256"}`)) + "." + encode(claims)
	digest := sha256.Sum256([]byte(token))
	r, s, err := ecdsa.Sign(rand.Reader, i.key, digest[:])
	if err != nil {
		return "", fmt.Errorf("sign the post: %w", err)
	}
	// RFC 7518, section 3.4: both numbers at their full length, side by side.
	signature := make([]byte, 64)
	r.FillBytes(signature[:32])
	s.FillBytes(signature[32:])
	return "vapid t=" + token + "." + encode(signature) + ", k=" + i.public, nil
}

func encode(b []byte) string { return base64.RawURLEncoding.EncodeToString(b) }
