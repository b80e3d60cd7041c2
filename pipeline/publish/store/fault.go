package store

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"

	"github.com/minio/minio-go/v7"
)

// fault says in our own words what a store refused: its own text may repeat keys or what was signed with them.
func (b *bucket) fault(doing string, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s: %w", doing, err)
	}
	said := minio.ToErrorResponse(err)
	switch said.Code {
	case "NoSuchKey":
		return fmt.Errorf("%s: %w", doing, ErrNone)
	case "PreconditionFailed", "ConditionalRequestConflict":
		return fmt.Errorf("%s: %w", doing, ErrTaken)
	case "NoSuchBucket":
		return fmt.Errorf("%s: the store has no bucket %q: make it, or correct the destination", doing, b.name)
	case "AccessDenied", "AllAccessDisabled":
		return fmt.Errorf("%s: the store does not permit it (%s): the keys need to read, write, list and remove under %s", doing, said.Code, b.URI())
	case "InvalidAccessKeyId", "SignatureDoesNotMatch", "InvalidToken", "ExpiredToken", "InvalidSecurity", "AuthorizationHeaderMalformed":
		return fmt.Errorf("%s: the store does not know the keys (%s): look at AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_SESSION_TOKEN and AWS_REGION", doing, said.Code)
	}
	switch said.StatusCode {
	case http.StatusNotFound:
		return fmt.Errorf("%s: %w", doing, ErrNone)
	case http.StatusPreconditionFailed:
		return fmt.Errorf("%s: %w", doing, ErrTaken)
	case http.StatusForbidden:
		return fmt.Errorf("%s: the store does not permit it (status 403): the keys need to read, write, list and remove under %s", doing, b.URI())
	}
	var network net.Error
	var address *url.Error
	if errors.As(err, &address) || errors.As(err, &network) {
		return fmt.Errorf("%s: the store at %s does not answer: look at AWS_ENDPOINT_URL and the network", doing, b.client.EndpointURL().Host)
	}
	if said.Code != "" {
		return fmt.Errorf("%s: the store refused it (%s, status %d)", doing, said.Code, said.StatusCode)
	}
	return fmt.Errorf("%s: %w", doing, err)
}
